package prediction_test

import (
	"testing"

	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// reference compiles the reference system and asks its catalogue.
func reference(tb testing.TB) (*prediction.Model, map[string]*prediction.Asked) {
	tb.Helper()
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		tb.Fatal(err)
	}
	m, err := prediction.Compile(sys)
	if err != nil {
		tb.Fatal(err)
	}
	procs, err := question.Library()
	if err != nil {
		tb.Fatal(err)
	}
	asked := map[string]*prediction.Asked{}
	for _, id := range procs.IDs() {
		p := procs[id]
		if ok, _ := p.Applies(sys); !ok || p.Look != nil {
			continue
		}
		target, err := p.Target(sys)
		if err != nil {
			tb.Fatal(err)
		}
		way, err := sys.Rig.Path(sys.Rig.Rest, target)
		if err != nil {
			tb.Fatal(err)
		}
		a, err := m.Ask(question.Question{Procedure: id, Seek: p.Seek(), Setup: question.Setup{
			Rig: way.Final, Engine: question.EngineSpeed(&sys.Rig, way.Final), Hold: p.Hold,
		}})
		if err != nil {
			tb.Fatal(err)
		}
		asked[id] = &a
	}
	return m, asked
}

// BenchmarkSolve is one operating point: cold from the sound vehicle's, and warm
// from one where every free parameter stood a tenth of its spread away.
func BenchmarkSolve(b *testing.B) {
	m, asked := reference(b)
	for _, id := range []string{"battery-rest-volts", "loaded-output", "charge-volts"} {
		for _, warm := range []bool{false, true} {
			name := id + "/cold"
			if warm {
				name = id + "/warm"
			}
			b.Run(name, func(b *testing.B) {
				w := m.NewWorker()
				near, far := make([]float64, m.Dims()), make([]float64, m.Dims())
				for i := range far {
					far[i] = 0.1
				}
				w.Hold(prediction.Hypothesis{}, prediction.Component{}, near)
				if err := w.Solve(asked[id]); err != nil {
					b.Fatal(err)
				}
				before := w.Work().Newton
				b.ReportAllocs()
				for i := 0; b.Loop(); i++ {
					z := near
					if i%2 == 1 {
						z = far
					}
					if !warm {
						w.Begin()
					}
					w.Hold(prediction.Hypothesis{}, prediction.Component{}, z)
					if err := w.Solve(asked[id]); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(w.Work().Newton-before)/float64(b.N), "newton/op")
			})
		}
	}
}
