package report

import (
	"fmt"
	"slices"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/question"
)

// cardStep puts a step on the card.
func (d *desk) cardStep(w way) (CardStep, error) {
	s, step := w.at.s, w.step
	out := CardStep{
		When: w.when, Chance: share(w.share), Do: step.Do, Verb: step.Verb(), Name: step.Name, Procedure: step.Body.Procedure, Repair: step.Body.Repair,
		Why: step.Why, Cost: step.Cost(), Confirm: []string{}, Warn: step.Warn, Hold: holds(step), Watch: s.Watch(step.ToRig), Work: step.Body.Lines,
		Boxes: []Box{}, Question: step.Body.Question, Expect: []Expected{}, picture: d.pictureOf(w),
	}
	if out.When == nil {
		out.When = []string{}
	}
	out.Confirm = append(out.Confirm, w.first...)
	for _, c := range step.Confirm {
		out.Confirm = append(out.Confirm, c.Name)
	}
	lines := s.Lines(step)
	out.Lines = cardLines(lines)
	out.Cautions = step.Untold(lines)
	for _, list := range []*[]advice.Cautions{&out.Watch, &out.Cautions} {
		if *list == nil {
			*list = []advice.Cautions{}
		}
	}
	for _, l := range step.Looks {
		out.Answers = append(out.Answers, Answer{l.Name, l.Chance})
	}
	for i, e := range step.Expect {
		const most = 5
		if i == most || len(e.Values) == 0 {
			break
		}
		var words []string
		for _, r := range e.Values {
			words = append(words, r.Name+" "+r.Words())
		}
		letter := s.Letter(e.Suspect)
		if letter == "0" {
			letter = ""
		}
		name := advice.Capital(e.Name)
		if slices.ContainsFunc(s.Advice.Suspects, func(x advice.Suspect) bool { return x.ID == e.Suspect && x.Mended }) {
			name += ", mended"
		}
		out.Expect = append(out.Expect, Expected{letter, name, strings.Join(words, ", ")})
	}
	var err error
	if p := d.Shelf.Catalogue[step.Body.Procedure]; p != nil && p.Look == nil {
		out.Boxes, err = d.boxes(w, p)
	}
	return out, err
}

// holds says what is held by hand while a step is read.
func holds(step advice.Step) []string {
	out := []string{}
	for _, h := range step.Holds() {
		for id, word := range heldWords {
			h = strings.Replace(h, "Hold "+strings.ReplaceAll(id, "-", " ")+" at", "Hold the "+word+" at", 1)
		}
		out = append(out, h)
	}
	return out
}

// cardLines are the lines of a hook-up. A caution stands in full where it comes
// first; later lines point there.
func cardLines(lines []advice.Line) []CardLine {
	out := []CardLine{}
	at := map[string]int{}
	for _, l := range lines {
		c := CardLine{N: l.N, Say: l.Say, Cautions: l.Cautions}
		if c.Say == "" {
			c.Say = "Put the leads on"
		}
		for _, m := range l.Leads {
			c.Leads = append(c.Leads, leadSays(m))
		}
		if c.Cautions == nil {
			c.Cautions = []advice.Cautions{}
		}
		for _, x := range l.Cautions {
			at[x.ID] = l.N
		}
		for _, x := range l.Told {
			c.Again = append(c.Again, AsAt{at[x.ID], x.ID, strings.TrimSuffix(x.Short(), ".")})
		}
		out = append(out, c)
	}
	return out
}

// leadSays says where the leads of one box go.
func leadSays(l advice.Lead) string {
	switch {
	case l.Red != nil && l.Black != nil:
		return fmt.Sprintf("%s: red on %s, black on %s", l.Box, pointSays(l.Red), pointSays(l.Black))
	case l.Through != nil:
		return fmt.Sprintf("%s: round the %s, its arrow %s", l.Box, l.Through.Name, l.Forward)
	}
	return l.Box
}

func pointSays(p *advice.Point) string {
	out := p.Name
	if p.Number > 0 {
		out = fmt.Sprintf("%d %s", p.Number, out)
	}
	if p.Terminal != "" {
		out += " (" + p.Terminal + ")"
	}
	return out
}

// boxes are the blanks of a reading with their limits at today's temperature.
func (d *desk) boxes(w way, p *question.Procedure) ([]Box, error) {
	// Some value must stand there for its limits to be looked up; which one does
	// not matter to them.
	middle := make([]job.ValueBody, len(p.Measure))
	for i := range middle {
		middle[i].How = string(question.Measured)
	}
	next, err := d.with(w.at, job.Took, d.reading(w.at, p.ID, middle))
	if err != nil {
		return nil, err
	}
	in := d.input(next.j)
	b := w.at.s.Belief
	held, err := w.at.s.Reading(in, &b, len(in.Readings)-1)
	if err != nil {
		return nil, err
	}
	out := []Box{}
	for i, o := range p.Measure {
		b := Box{Name: o.Note, Quantity: string(o.Kind), Leads: d.leads(o), Units: job.BoxUnits(o), Meter: meterName(o.Meter), Optional: o.Optional, Limits: []Bound{}}
		if b.Units == nil {
			b.Units = []string{}
		}
		for _, l := range held.Values[i].Limits {
			b.Limits = append(b.Limits, bound(l, held.Values[i]))
		}
		out = append(out, b)
	}
	return out, nil
}
