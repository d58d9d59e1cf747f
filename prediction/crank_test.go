package prediction

import (
	"testing"

	"chargewright/question"
	"chargewright/system"
)

// TestACrankedMachineCannotCharge: at 180 rpm a sound machine has no charging point, and
// none is looked for: on the coach that took a third of the Newton iterations of a next
// step. Just started, at idle, every machine can. The sound vehicle of medians.
func TestACrankedMachineCannotCharge(t *testing.T) {
	procs, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, id := range system.Library() {
		sys, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		if sys.Machine.DPlus != "" {
			continue // is woken, not looked for
		}
		m, err := Compile(sys)
		if err != nil {
			t.Fatal(err)
		}
		p := procs["crank-volts"]
		target, err := p.Target(sys)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := sys.Rig.Path(sys.Rig.Rest, target)
		if err != nil {
			t.Fatal(err)
		}
		crank := question.EngineSpeed(&sys.Rig, plan.Final)
		for _, at := range []struct {
			speed float64
			can   bool
		}{{crank, false}, {4 * crank, true}} {
			a, err := m.Ask(question.Question{Setup: question.Setup{Rig: plan.Final, Engine: at.speed}, Seek: p.Seek()})
			if err != nil {
				t.Fatal(err)
			}
			w := m.NewWorker()
			w.Hold(Hypothesis{}, Component{}, make([]float64, m.Dims()))
			if err := w.Solve(&a); err != nil {
				t.Fatal(err)
			}
			for i := range m.gens {
				n++
				if can := w.canCharge(&m.gens[i]); can != at.can {
					t.Errorf("%s, machine %d at %.0f rad/s: can charge %v, want %v", id, i+1, at.speed, can, at.can)
				}
			}
		}
	}
	if n < 10 {
		t.Errorf("only %d machines were asked", n)
	}
}
