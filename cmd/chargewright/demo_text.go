package main

import (
	"fmt"
	"strings"

	"chargewright/advice"
	"chargewright/diagnosis"
	"chargewright/unit"
)

func splitRepair(class string) []string { return strings.Split(class, "+") }

// text is the demonstration for people.
func (d *demonstration) text(t *text) {
	t.head("DEMONSTRATION, seed %d. Everything here is invented: the vehicle, its fault, the readings, the prices. No vehicle was touched.", d.seed)
	t.hang("Vehicle:   ", d.desk.System.Name+". "+d.desk.System.About)
	t.hang("Complaint: ", strings.ReplaceAll(d.hidden.complaint, "-", " "))
	t.hang("Air:       ", unit.Format(unit.Kelvin, d.hidden.day.Ambient.K))
	told := map[string]bool{}
	for i, s := range d.ours.steps {
		d.stepText(t, i+1, s, told)
	}
	d.proofText(t)
	d.costText(t)
	names := []string{"nothing"}
	if len(d.hidden.faults) > 0 {
		names = nil
		for _, f := range d.hidden.faults {
			i, _ := d.desk.Model.FaultIndex(f)
			names = append(names, d.desk.System.Faults[i].Name)
		}
	}
	t.head("WHAT WAS HIDDEN: %s", strings.Join(names, " and "))
	t.line(0, "On a real vehicle the maker's manual, local rules and qualified practice come before every line above.")
}

// stepText is one step: what is done and why, how it is hooked up, what was
// read, what that does to the odds.
func (d *demonstration) stepText(t *text, n int, s playedStep, told map[string]bool) {
	out, err := d.desk.Step(s.in, &s.belief, s.step)
	if err != nil {
		return // a step that was taken can be described
	}
	t.head("%d. %s", n, out.Name)
	t.line(3, "%s.", sentence(out.Why)+" "+capital(cost(out)))
	here := map[string]bool{}
	for k, m := range out.Hookup {
		t.hang(fmt.Sprintf("   %2d. [ ] ", k+1), m.Say)
		t.cautions("           ! ", m.Cautions, told, here)
	}
	t.cautions("       ! ", out.Body.Cautions, told, here)
	if s.step.Procedure == nil {
		for k, l := range out.Body.Lines {
			t.hang(fmt.Sprintf("    %d. ", k+1), l)
		}
	}
	if s.reading != nil {
		d.readingText(t, s)
	}
	switch {
	case s.step.Repair != "" && s.cures:
		t.line(3, "The complaint is gone.")
		return
	case s.step.Repair != "":
		t.line(3, "The complaint is still there.")
	}
	d.oddsText(t, s)
}

// cautions writes a caution in full the first time, in a later step its first
// sentence, and once in a step.
func (t *text) cautions(lead string, list []advice.Cautions, told, here map[string]bool) {
	for _, c := range list {
		if here[c.ID] {
			continue
		}
		say := c.Text
		if told[c.ID] {
			say = c.Short()
		}
		told[c.ID], here[c.ID] = true, true
		t.hang(lead, say)
	}
}

func (d *demonstration) readingText(t *text, s playedStep) {
	in := s.in
	in.Readings = append(append(in.Readings[:0:0], in.Readings...), *s.reading)
	r, err := d.desk.Reading(in, &s.after, len(in.Readings)-1)
	if err != nil {
		return
	}
	t.line(3, "Read")
	for _, v := range r.Values {
		t.reading(v)
		if len(v.Limits) > 0 {
			t.hang("        ", fmt.Sprintf("limit %s: %s that it is within", limits(v.Limits[0], v.Dim), percent(v.Limits[0].PWithin)))
		}
		for _, n := range v.Notes {
			t.hang("        note: ", n)
		}
	}
}

// oddsText says how the leading causes moved.
func (d *demonstration) oddsText(t *text, s playedStep) {
	before := map[string]float64{"": s.belief.Sound()}
	for _, x := range s.belief.Suspects(d.desk.Groups()) {
		before[x.ID] = x.Probability
	}
	const leading, least = 3, 0.02
	t.line(3, "Likely causes")
	for i, x := range d.shares(&s.after) {
		if i == leading || x.p < least {
			break
		}
		t.columns(6, []int{50}, short(x.name, 49), percent(before[x.id])+" -> "+percent(x.p))
	}
}

type share struct {
	id, name string
	p        float64
}

// shares are the suspects and the sound vehicle, likeliest first.
func (d *demonstration) shares(b *diagnosis.Belief) []share {
	var out []share
	sound := share{"", "nothing wrong", b.Sound()}
	for _, x := range b.Suspects(d.desk.Groups()) {
		if sound.p > x.Probability {
			out = append(out, sound)
			sound.p = -1
		}
		out = append(out, share{x.ID, d.desk.Name(x.Faults[0].Fault), x.Probability})
	}
	return out
}
