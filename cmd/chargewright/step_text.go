package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"chargewright/advice"
)

// next is the first step in full and the others in a line each.
func (t *text) next(a advice.Advice) {
	if len(a.Next) == 0 {
		return
	}
	t.head("NEXT: %s", a.Next[0].Name)
	t.step(a.Next[0])
	if len(a.Next) == 1 {
		return
	}
	t.head("OR")
	for i, s := range a.Next[1:] {
		t.hang(fmt.Sprintf("  %d. ", i+2), fmt.Sprintf("%s %s: %s (%s)", verb(s), s.Name, s.Why, cost(s)))
	}
}

// verb says what kind of step it is.
func verb(s advice.Step) string {
	switch s.Do {
	case "repair":
		return "Repair:"
	case "repeat":
		return "Again:"
	case "look":
		return "Look:"
	case "test":
		return "Test:"
	}
	return ""
}

func cost(s advice.Step) string {
	parts := []string{minutes(s.Minutes.Work)}
	if s.Minutes.Hookup > 0 {
		parts = append(parts, "hook-up "+minutes(s.Minutes.Hookup))
	}
	if s.Minutes.Waiting > 0 {
		parts = append(parts, "waiting "+minutes(s.Minutes.Waiting))
	}
	if s.Money > 0 {
		parts = append(parts, fmt.Sprintf("parts %.0f", s.Money))
	}
	return strings.Join(parts, ", ")
}

// step is a step in full: why, what to see first, the hook-up with its
// cautions, the meter, the work, what it would read.
func (t *text) step(s advice.Step) {
	t.line(2, "%s.", sentence(s.Why)+" "+capital(cost(s)))
	for _, w := range s.Warn {
		t.hang("  ! ", w)
	}
	if len(s.Confirm) > 0 {
		var names []string
		for _, c := range s.Confirm {
			names = append(names, c.Name)
		}
		t.line(2, "First see that it stands as assumed")
		t.line(4, "%s", strings.Join(names, "; "))
	}
	t.hookup(s)
	t.meters(s)
	if len(s.Body.Lines) > 0 {
		t.line(2, "%s", work(s))
	}
	if !leadsGoOn(s) {
		for _, c := range ownCautions(s) {
			t.hang("       ! ", c.Text)
		}
	}
	for i, l := range s.Body.Lines {
		t.hang(fmt.Sprintf("    %d. ", i+1), l)
	}
	t.expected(s)
	t.line(2, "The vehicle maker's manual, local rules and qualified practice come first.")
}

// ownCautions are those of a step that no move of its hook-up carries. They stand
// where the meter's leads go on, or before the work.
func ownCautions(s advice.Step) []advice.Cautions {
	return slices.DeleteFunc(slices.Clone(s.Body.Cautions), func(c advice.Cautions) bool {
		return slices.ContainsFunc(s.Hookup, func(m advice.Move) bool { return slices.Contains(m.Cautions, c) })
	})
}

func work(s advice.Step) string {
	if s.Do == "look" {
		return "Look: " + s.Body.Question
	}
	if s.Do == "repair" {
		return "Repair"
	}
	return "Work"
}

// sentence begins with a capital and ends with a stop.
func sentence(s string) string {
	s = capital(strings.TrimRight(s, " "))
	if s == "" || strings.ContainsAny(s[len(s)-1:], ".?!") {
		return s
	}
	return s + "."
}

func capital(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// hookup is the checklist; a caution that stood above is not written again in
// full.
func (t *text) hookup(s advice.Step) {
	if len(s.Hookup) == 0 {
		if s.Body.Procedure != "" {
			t.line(2, "Hook-up: as it stands.")
		}
		if leadsGoOn(s) {
			for _, c := range ownCautions(s) {
				t.hang("           ! ", c.Text)
			}
		}
		return
	}
	t.line(2, "Hook-up")
	told, n := map[string]bool{}, 0
	line := func(say string, cautions []advice.Cautions) {
		n++
		t.hang(fmt.Sprintf("   %2d. [ ] ", n), say)
		for _, c := range cautions {
			if told[c.ID] {
				continue
			}
			told[c.ID] = true
			t.hang("           ! ", c.Text)
		}
	}
	leads := "Leads of the meter on, as below"
	if s.LeadsStay { // nobody moves a lead while the engine turns
		leads = "The leads of the meter stay where they are, as below"
	}
	for i, m := range s.Hookup {
		if i == s.LeadsAt && leadsGoOn(s) {
			line(leads, ownCautions(s))
		}
		line(m.Say, m.Cautions)
	}
	if s.LeadsAt == len(s.Hookup) && leadsGoOn(s) {
		line(leads, ownCautions(s))
	}
}

// leadsGoOn says whether a step has a pair of leads of its own.
func leadsGoOn(s advice.Step) bool {
	return slices.ContainsFunc(s.Body.Leads, func(l advice.Lead) bool { return l.Red != nil && !l.Watch })
}

func (t *text) meters(s advice.Step) {
	if len(s.Body.Leads) == 0 {
		return
	}
	t.line(2, "Meter")
	for _, l := range s.Body.Leads {
		head := "    " + l.Title() + ": "
		switch {
		case l.Watch:
			t.hang(head, "read off the watch meter, no more leads")
		case l.Through != nil:
			t.hang(head, fmt.Sprintf("%s at %s; positive %s", l.Meter, l.Through.Name, l.Forward))
		case l.Red != nil:
			t.hang(head, fmt.Sprintf("%s, red on %s, black on %s", l.Meter, point(*l.Red), point(*l.Black)))
		default:
			t.hang(head, l.Meter)
		}
	}
	for _, h := range s.Holds() {
		t.hang("    ", strings.ReplaceAll(h, "\u00a0", " "))
	}
}

// point names a point: its number on the drawing, its name, its marking.
func point(p advice.Point) string {
	out := p.Name
	if p.Number > 0 {
		out = fmt.Sprintf("%d %s", p.Number, p.Name)
	}
	if p.Terminal != "" {
		out += " (" + p.Terminal + ")"
	}
	return out
}

// expected is what the step would read under each leading cause.
func (t *text) expected(s advice.Step) {
	if len(s.Expect) == 0 {
		return
	}
	t.line(2, "It would read")
	for _, e := range s.Expect {
		var parts []string
		for _, v := range e.Values {
			parts = append(parts, between(v))
		}
		for i, p := range e.Classes {
			if p >= 0.1 && i < len(s.Body.Classes) {
				parts = append(parts, s.Body.Classes[i]+" "+percent(p))
			}
		}
		t.hang("    "+pad(short(e.Name, 35), 36), strings.Join(parts, ", "))
	}
}

// between prints a predicted range as the meter would show it, one figure where
// its ends read the same or nearly.
func between(v advice.Range) string {
	const narrow = 0.02
	per, places, symbol := printed(v.Dim, v.Median, v.Resolution)
	say := func(x float64) string { return fmt.Sprintf("%.*f", places, x/per) }
	size := math.Max(math.Abs(v.Low), math.Abs(v.High))
	if v.High-v.Low <= math.Max(narrow*size, v.Resolution) {
		return strings.TrimSpace(zero(say(v.Median)) + " " + symbol)
	}
	return strings.TrimSpace(zero(say(v.Low)) + " to " + zero(say(v.High)) + " " + symbol)
}

// zero takes the sign off a zero.
func zero(s string) string {
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}
