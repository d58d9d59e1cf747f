package advice_test

import (
	"slices"
	"strings"
	"testing"

	"chargewright/advice"
	"chargewright/question"
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
	for id, words := range map[string]string{
		"field-feed-key-on": "Meter on DC volts. With one meter: read one pair after the other",
		"stud-volts":        "Meter on DC volts, one at each pair. With one meter: read a pair, loads off, stop the engine, move the leads, start again",
		"ac-volts":          "Meter on AC volts, one at each pair",
		"charge-volts":      "Meter on DC volts",
	} {
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
				if !strings.HasPrefix(l.Say, words) {
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

// TestOffTheWatchMeter: battery volts in a hook-up that has the watch meter on are
// read off it. The lines say so where it goes on, ask for no more leads, and the
// step says it as well where it is on already.
func TestOffTheWatchMeter(t *testing.T) {
	s := standing(t, pageJob(t))
	full, err := s.Take("full-field-output")
	if err != nil {
		t.Fatal(err)
	}
	on := pageJob(t)
	for i, p := range s.System.Rig.Places {
		if p.Role == "watch-meter" {
			on.Rig = on.Rig.With(i, 1)
		}
	}
	already := standing(t, on)
	charge, err := already.Take("charge-volts")
	if err != nil {
		t.Fatal(err)
	}
	plain, err := s.Take("charge-volts")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		s     *advice.Standing
		step  advice.Step
		watch bool
	}{{"full field", s, full, true}, {"watch meter left on", already, charge, true}, {"no watch meter", s, plain, false}} {
		pairs, at := 0, ""
		for _, l := range c.s.Lines(c.step) {
			for _, m := range l.Leads {
				if m.Red != nil && m.Red.ID == "batp" {
					pairs++
				}
			}
			if l.Place == "watch-meter" {
				at = l.Say
			}
		}
		says := strings.Contains(strings.Join(c.step.Body.Lines, "\n"), "Battery volts: read off the watch meter, which is on the posts; no more leads")
		if (pairs == 0) != c.watch || says != c.watch {
			t.Errorf("%s: %d pairs on the battery; says so %v: %q", c.name, pairs, says, c.step.Body.Lines)
		}
		if c.name == "full field" && !strings.HasSuffix(at, "Battery volts: read them off it") {
			t.Errorf("where the watch meter goes on: %q", at)
		}
	}
	if full.Body.Leads[1].Title() != "watch meter 2, battery volts" || full.Body.Leads[0].Title() != "clamp meter 1, output amps" {
		t.Errorf("boxes %q and %q", full.Body.Leads[0].Title(), full.Body.Leads[1].Title())
	}
}

// TestLeadsBeforeTheLoad: the load tester draws for seconds, which are for reading.
func TestLeadsBeforeTheLoad(t *testing.T) {
	s := standing(t, pageJob(t))
	step, err := s.Take("battery-load")
	if err != nil {
		t.Fatal(err)
	}
	var order []string
	for _, l := range s.Lines(step) {
		order = append(order, l.Place)
	}
	if !slices.Equal(order, []string{"load-bank", "", "load-bank"}) {
		t.Errorf("lines move %q: clips, leads, load", order)
	}
	if h := step.Holds(); !slices.Equal(h, []string{"Set the load tester to 165\u00a0A"}) {
		t.Errorf("held: %q", h)
	}
}

// TestLoadOffThenStop: leads are moved on a vehicle that ran under load only after
// the load is off, the engine at idle and stopped and the key off, in this order;
// the load comes back last (docs/models/safety.md R43 R24).
func TestLoadOffThenStop(t *testing.T) {
	s := standing(t, pageJob(t, "walk-stud", []float64{0.019, 26.2}))
	step, err := s.Take("walk-junction")
	if err != nil {
		t.Fatal(err)
	}
	var order []string
	for i, m := range step.Hookup {
		if i == step.LeadsAt {
			order = append(order, "leads")
		}
		order = append(order, m.Place+" "+m.To)
	}
	want := []string{
		"accessories off", "load-bank clipped", "engine idle", "engine off", "ignition off", "leads",
		"ignition on", "engine idle", "engine fast", "load-bank drawing", "accessories on",
	}
	if !slices.Equal(order, want) {
		t.Errorf("got  %q\nwant %q", order, want)
	}
}

// TestKeyOffForTheLeads: between two readings with the key on and the engine
// stopped the leads are moved with the key off: the coil may be live for 2 min.
func TestKeyOffForTheLeads(t *testing.T) {
	s := standing(t, pageJob(t, "walk-ign-switch", []float64{0.06}))
	step, err := s.Take("walk-feed-wire")
	if err != nil {
		t.Fatal(err)
	}
	var order []string
	for _, l := range s.Lines(step) {
		order = append(order, l.Place)
	}
	if !slices.Equal(order, []string{"ignition", "", "ignition"}) || step.Hookup[0].To != "off" {
		t.Errorf("lines move %q", order)
	}
}

// TestEveryHoldHasWords: what is held is said as the trade says it.
func TestEveryHoldHasWords(t *testing.T) {
	for _, what := range question.HoldWords() {
		h := advice.Step{Body: advice.Body{Hold: []advice.Hold{{What: what, At: 12, Unit: "A"}}}}.Holds()
		if len(h) != 1 || !strings.Contains(h[0], "12\u00a0A") || strings.Contains(h[0], "%") || strings.Contains(h[0], "bank") {
			t.Errorf("%s: %q", what, h)
		}
	}
}
