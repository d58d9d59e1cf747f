package prediction_test

import (
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

func TestZX(t *testing.T) {
	for _, id := range []string{"output-fed-earth-side", "lamp-excited"} {
		sys, _ := system.ByID(id)
		m, err := prediction.Compile(sys)
		if err != nil {
			t.Fatal(err)
		}
		w := m.NewWorker()
		rng := rand.New(rand.NewPCG(1, 1))
		first, warm, nf, nw, bad := 0, 0, 0, 0, 0
		worst := 0
		for fi := -1; fi < len(sys.Faults); fi++ {
			if fi >= 0 && sys.Faults[fi].Outside {
				continue
			}
			h := prediction.Hypothesis{}
			var comp prediction.Component
			if fi >= 0 {
				h.Faults = []int{fi}
				if f := sys.Faults[fi]; f.Magnitude != nil {
					lo, hi := math.Log10(f.Magnitude.Low), math.Log10(f.Magnitude.High)
					comp.Mean[0] = lo + (hi-lo)*rng.Float64()
					comp.SD[0] = (hi - lo) / 6
				}
			}
			for _, pos := range []map[string]string{{"engine": "idle"}, {"engine": "fast"}, {"engine": "quick"}, {"engine": "blip"}, {"engine": "fast", "accessories": "on"}} {
				st := sys.Rig.Rest
				for i, p := range sys.Rig.Places {
					for k, q := range p.Positions {
						if pos[p.ID] == q.ID || p.ID == "ignition" && q.ID == "on" {
							st = st.With(i, k)
						}
					}
				}
				a, _ := m.Ask(question.Question{Setup: question.Setup{Rig: st, Engine: question.EngineSpeed(&sys.Rig, st)}, Seek: []question.Observable{{Kind: question.Volts, Red: "batp", Black: "batn"}}})
				z := make([]float64, m.Dims())
				w.Hold(prediction.Hypothesis{}, prediction.Component{}, z)
				w.Begin()
				w.Solve(&a)
				w.Begin()
				for k := range 60 {
					w.Hold(h, comp, z)
					n0 := w.Work().Newton
					if err := w.Solve(&a); err != nil {
						bad++
						fmt.Println(id, fi, pos, err)
						if fi >= 0 {
							fmt.Println(sys.Faults[fi].ID, k)
						}
					}
					d := w.Work().Newton - n0
					if k == 0 {
						first += d
						nf++
					} else {
						warm += d
						nw++
						if d > worst {
							worst = d
						}
					}
					for i := range z {
						z[i] += 0.2 * rng.NormFloat64()
					}
				}
			}
		}
		fmt.Printf("%s first %.1f warm %.1f worst %d bad %d\n", id, float64(first)/float64(nf), float64(warm)/float64(nw), worst, bad)
	}
}
