package advice_test

import (
	"slices"
	"strings"
	"testing"

	"chargewright/advice"
)

// TestLineByLine: whoever ticks one line at a time comes to the reading in as
// many ticks as there were lines. A lead that was ticked is on: it is not asked
// for again, and the engine is not stopped for it.
func TestLineByLine(t *testing.T) {
	running := pageJob(t, "charge-volts", []float64{14.03, 11.8})
	for _, id := range []string{"charge-volts", "ac-volts-low", "stud-volts", "field-feed-key-on", "drop-feed", "full-field-output", "idle-volts"} {
		in := pageJob(t)
		if id == "ac-volts-low" || id == "idle-volts" {
			in = running
		}
		s := standing(t, in)
		step, err := s.Take(id)
		if err != nil {
			t.Fatal(err)
		}
		first := len(s.Lines(step))
		for left := first; left > 0; left-- {
			lines := s.Lines(step)
			if len(lines) != left {
				t.Fatalf("%s: %d of %d lines are left after %d ticks; the next is %q", id, len(lines), first, first-left, lines[0].Say)
			}
			in.Leads = s.LeadsOn(step, 1)
			if l := lines[0]; l.Place != "" {
				at, ok := move(&s.System.Rig, in.Rig, l.Place, step.Hookup[0].To)
				if !ok {
					t.Fatalf("%s: %q breaks a rule", id, l.Say)
				}
				in.Rig = at
			}
			if s, err = s.Then(t.Context(), in); err != nil {
				t.Fatal(err)
			}
			if step, err = s.Take(id); err != nil {
				t.Fatal(err)
			}
		}
		if n := len(s.Lines(step)); n != 0 {
			t.Errorf("%s: %d lines are left when all were ticked", id, n)
		}
	}
}

// TestLeadsBeforeTheKey: the time that the ignition may stay on with the engine
// stopped is for reading; the leads are on before it. Several pairs say how they
// are read.
func TestLeadsBeforeTheKey(t *testing.T) {
	s := standing(t, pageJob(t))
	for id, words := range map[string]string{"field-feed-key-on": "one pair after the other", "stud-volts": "stop the engine", "charge-volts": ""} {
		step, err := s.Take(id)
		if err != nil {
			t.Fatal(err)
		}
		leads, key := 0, 0
		for _, l := range s.Lines(step) {
			if len(l.Leads) > 0 && l.Place == "" {
				leads = l.N
				if !slices.ContainsFunc(l.Cautions, func(c advice.Cautions) bool { return strings.Contains(c.Text, "Rings, watch") }) {
					t.Errorf("%s: rings are not spoken of where the leads go on: %v", id, l.Cautions)
				}
				if words == "" && l.Say != "" || !strings.Contains(l.Say, words) {
					t.Errorf("%s: the leads' line says %q, want %q", id, l.Say, words)
				}
			}
			if l.Place == "ignition" {
				key = l.N
			}
		}
		if leads == 0 || key == 0 || leads > key {
			t.Errorf("%s: leads at line %d, key at line %d", id, leads, key)
		}
	}
}
