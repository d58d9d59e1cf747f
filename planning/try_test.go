package planning

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"chargewright/diagnosis"
	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

func TestTry(t *testing.T) {
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	m, err := prediction.Compile(sys)
	if err != nil {
		t.Fatal(err)
	}
	procs, _ := question.Library()
	prac, err := system.DefaultPractice()
	if err != nil {
		t.Fatal(err)
	}
	bd, err := NewBoard(m, prac, procs, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	pr := diagnosis.Prior{Model: m, Rates: map[string]float64{}, NoFault: prac.NoFault.Rate, Meters: map[string]meter.Instrument{}, Settings: diagnosis.DefaultSettings(), Look: bd.LookOf}
	for id, r := range prac.Rates {
		pr.Rates[id] = r.Rate
	}
	for _, in := range meter.Catalogue() {
		pr.Meters[in.ID] = in
	}
	t0 := time.Now()
	b, err := diagnosis.Begin(pr)
	if err != nil {
		t.Fatal(err)
	}
	if err := bd.Group(pr); err != nil {
		t.Fatal(err)
	}
	g := bd.Groups
	fmt.Println("begin+groups", time.Since(t0), len(b.Hyps))
	for _, fid := range []string{"rotor-open", "feed-joint-bulkhead-a", "diode-open", "control-wire-earthed"} {
		b, _ := diagnosis.Begin(pr)
		fi, _ := m.FaultIndex(fid)
		rng := rand.New(rand.NewPCG(1, uint64(fi)))
		comp := prediction.Component{}
		if mg := sys.Faults[fi].Magnitude; mg != nil {
			comp.Mean[0], comp.SD[0] = prediction.MagnitudeComponent(mg, 1, 3)
		}
		z := make([]float64, m.Dims())
		for i := range z {
			z[i] = rng.NormFloat64()
		}
		fmt.Println("=====", fid, "truth mag", math.Pow(10, comp.Mean[0]+comp.SD[0]*z[len(m.Coords)]))
		pl := NewPlanner(bd)
		st := State{Belief: b, Rig: sys.Rig.Rest, Done: map[string]int{}, Barred: map[string]bool{}}
		w := m.NewWorker()
		for step := range 14 {
			t0 := time.Now()
			plan, err := pl.Next(st)
			if err != nil {
				t.Fatal(err)
			}
			tn := time.Since(t0)
			s := plan.Next[0]
			for i, x := range plan.Next[:min(4, len(plan.Next))] {
				id := ""
				if x.Procedure != nil {
					id = x.Procedure.ID
				}
				if i > 0 {
					fmt.Printf("        alt %s %s %.2f bits %.1f+%.1f min\n", x.Do, id, x.Bits, x.Minutes, x.Rigging)
				}
			}
			if s.Procedure == nil {
				fmt.Println("  STOP", s.Do, s.Repair, s.Chance, s.Why)
				break
			}
			r := question.Reading{ID: fmt.Sprint("r", step+1), Question: s.Question}
			w.Begin()
			w.Hold(prediction.Hypothesis{Faults: []int{fi}}, comp, z)
			if s.Do == Look || s.Procedure.Look != nil {
				p := s.Procedure.Look.Given[fid]
				if p == nil {
					p = s.Procedure.Look.Otherwise
				}
				u := rng.Float64()
				k := 0
				for k < len(p)-1 && u > p[k] {
					u -= p[k]
					k++
				}
				r.Values = []question.Value{{How: question.Class, Class: s.Procedure.Look.Classes[k]}}
			} else {
				a, err := m.Ask(s.Question)
				if err != nil {
					t.Fatal(err)
				}
				if err := w.Solve(&a); err != nil {
					t.Fatal(err)
				}
				for i := range a.Probes {
					v := w.Read(&a.Probes[i], nil)
					v += pr.Noise(a.Probes[i].Obs, v) * rng.NormFloat64()
					r.Values = append(r.Values, question.Value{How: question.Measured, X: v})
				}
			}
			t0 = time.Now()
			nb, err := st.Belief.With(r)
			if err != nil {
				t.Fatal(err)
			}
			tu := time.Since(t0)
			st.Belief, st.Rig, st.Moved = nb, s.To, true
			st.Done[s.Procedure.ID]++
			fmt.Printf("  %-20s %v bits %.2f min %.1f rig %.1f | next %v upd %v fits %d solves %d hyps %d | %s\n", s.Procedure.ID, r.Values, s.Bits, s.Minutes, s.Rigging, tn.Round(time.Millisecond), tu.Round(time.Millisecond), nb.Work.Fits, nb.Work.Solves, len(nb.Hyps), s.Why)
			for i, su := range nb.Suspects(g) {
				if i < 4 {
					fmt.Printf("      %.3f %s %v\n", su.Probability, su.ID, len(su.Faults))
				}
			}
			fmt.Printf("      sound %.3f none %.4f surprise %.3f\n", nb.Sound(), nb.None(), nb.Surprise())
		}
	}
}
