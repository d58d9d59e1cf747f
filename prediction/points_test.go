package prediction

import (
	"testing"

	"chargewright/question"
	"chargewright/system"
)

// TestPoints: a machine whose battery gives nothing feeds its own field or stays
// dead; a sound vehicle has one operating point; a standing one is not looked at.
func TestPoints(t *testing.T) {
	sys, err := system.ByID(first)
	if err != nil {
		t.Fatal(err)
	}
	m, err := Compile(sys)
	if err != nil {
		t.Fatal(err)
	}
	procs, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	w := m.NewWorker()
	for _, c := range []struct {
		hookup, fault string
		want          int
		source        string
	}{
		{"field-ends", "", 1, "memory: a battery holds the field's supply up"},
		{"field-ends", "battery-strap-open", 2, "program: ngspice 39, time domain: 0.04 V at the feed end where ours takes 14.1 V"},
		{"loaded-output-quick", "ammeter-open", 2, "program: ngspice 39, time domain: no output where ours takes 19 A"},
		{"field-draw", "battery-strap-open", 1, "closed form: without speed there is no EMF"},
	} {
		asked, err := m.Ask(question.Question{Setup: hookup(t, m, procs[c.hookup])})
		if err != nil {
			t.Fatal(err)
		}
		asked.dead = false // nothing is sought; the vehicle is solved all the same
		var h Hypothesis
		if k, ok := m.FaultIndex(c.fault); ok {
			h.Faults = []int{k}
		}
		w.Begin()
		w.Hold(h, Component{}, make([]float64, m.Dims()))
		if err := w.Solve(&asked); err != nil {
			t.Fatalf("%s, %s: %v", c.hookup, c.fault, err)
		}
		before := w.studsVolts()
		got, err := w.Points()
		if err != nil || got != c.want {
			t.Errorf("%s, %q: %d operating points (%v), want %d; %s", c.hookup, c.fault, got, err, c.want, c.source)
		}
		if d := w.studsVolts() - before; d > samePoint || d < -samePoint {
			t.Errorf("%s, %q: the operating point moved by %g V", c.hookup, c.fault, d)
		}
	}
}
