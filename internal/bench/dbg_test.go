package main

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"chargewright/prediction"
)

func TestDbg(t *testing.T) {
	w, err := newWorld("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	asked, names, _ := w.setups()
	n, dis := 0, 0
	for _, faults := range w.faultList() {
		if len(faults) == 0 || (w.sys.Faults[faults[0]].ID != "ammeter-open" && w.sys.Faults[faults[0]].ID != "clamp-negative-open" && w.sys.Faults[faults[0]].ID != "reg-plug-feed-pin" && w.sys.Faults[faults[0]].ID != "feed-joint-bulkhead-b") {
			continue
		}
		id := "no-fault"
		if len(faults) > 0 {
			id = w.sys.Faults[faults[0]].ID
		}
		z := make([]float64, w.model.Dims())
		a, b := w.model.NewWorker(), w.model.NewWorker()
		for s, q := range asked {
			rng := rand.New(rand.NewPCG(1, uint64(len(id))<<32^uint64(s)*7919^hash(id)))
			for range 9 {
				comp := w.draw(rng, faults, z)
				h := prediction.Hypothesis{Faults: faults}
				a.Begin()
				a.Hold(h, comp, z)
				err := a.Solve(q)
				b.Hold(h, comp, z)
				errb := b.Solve(q)
				if (err != nil || errb != nil) && n < 40 {
					n++
					fmt.Println(id, names[s], err, "|", errb)
				}
				if err == nil && errb == nil {
					for i := range q.Probes {
						x, y := a.Read(&q.Probes[i], nil), b.Read(&q.Probes[i], nil)
						if d := x - y; (d > 1e-6 || d < -1e-6) && dis < 30 {
							dis++
							fmt.Println("DIS", id, names[s], q.Probes[i].Obs.Note, x, y, a.Sheet(), b.Sheet())
						}
					}
				}
			}
		}
	}
}
