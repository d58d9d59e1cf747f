package main

import (
	"encoding/json"
	"testing"

	"chargewright/job"
)

// TestDemoEvents: the events of a demonstration fold into a job with the same
// readings in the same hook-ups, so that they can be kept as a job's log.
func TestDemoEvents(t *testing.T) {
	for _, c := range []demoCmd{
		{System: demoSystem, Fault: "regulator-no-field"},
		{System: "lamp-excited", Fault: "lamp-blown"},
		{System: "commanded", Fault: "command-open"},
	} {
		c.Seed = 1
		t.Run(c.System, func(t *testing.T) { demoEvents(t, &c) })
	}
}

func demoEvents(t *testing.T, c *demoCmd) {
	d, hidden, err := c.stage()
	if err != nil {
		t.Fatal(err)
	}
	ours, err := play(t.Context(), d, hidden, d.Planner.Policy)
	if err != nil {
		t.Fatal(err)
	}
	show := demonstration{seed: 1, desk: d, hidden: hidden, ours: ours}
	events, err := show.events()
	if err != nil {
		t.Fatal(err)
	}
	shelf, err := job.Library()
	if err != nil {
		t.Fatal(err)
	}
	j, err := job.Fold(events, shelf)
	if err != nil {
		t.Fatal(err)
	}
	all := append(append([]playedStep{}, ours.steps...), ours.proof...)
	n := 0
	for _, s := range all {
		if s.reading == nil {
			continue
		}
		got := j.Readings[n]
		if got.ID != s.reading.ID || got.Question.Setup.Rig != s.reading.Question.Setup.Rig || got.Epoch != s.reading.Epoch {
			t.Errorf("%s in %x, epoch %d; folded %s in %x, epoch %d", s.reading.ID, s.reading.Question.Setup.Rig, s.reading.Epoch, got.ID, got.Question.Setup.Rig, got.Epoch)
		}
		a, _ := json.Marshal(got.Values)
		b, _ := json.Marshal(s.reading.Values)
		if string(a) != string(b) {
			t.Errorf("%s: %s folded as %s", got.ID, b, a)
		}
		n++
	}
	if n != len(j.Readings) || n == 0 || len(j.Repairs) != ours.repairs {
		t.Errorf("%d readings and %d repairs; folded %d and %d", n, ours.repairs, len(j.Readings), len(j.Repairs))
	}
	if !ours.cured || ours.sound < 0.9 {
		t.Errorf("cured %v, nothing left with %.3f", ours.cured, ours.sound)
	}
}
