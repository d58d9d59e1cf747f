package page

import (
	"strings"

	"chargewright/report"
)

// textLines are the lines of a finished text.
func textLines(s string) []string { return strings.Split(s, "\n") }

// dateOf is the date of a paper; "" where it has none.
func dateOf(c report.Cover) string {
	if c.Date.IsZero() {
		return ""
	}
	return c.Date.Format("2 January 2006")
}

// rests says what a paper rests on.
func rests(events, system, practice, engine string) string {
	return join(nonEmpty(some("events ", events), "system "+first12(system), "practice figures "+first12(practice), "chargewright "+engine), " · ")
}

func some(name, sum string) string {
	if sum == "" {
		return ""
	}
	return name + first12(sum)
}

func movedHead(e report.Entry) string { head, _ := e.Moved(); return head }

func movedLines(e report.Entry) []string { _, list := e.Moved(); return list }

func againstLines(v report.Value) []string { limits, _ := v.Against(); return textLines(limits) }

func callLines(v report.Value) []string { _, calls := v.Against(); return textLines(calls) }

// stepName is a step of the card with what is done; "next" is said by its number.
func stepName(x report.CardStep) string { return strings.TrimPrefix(x.Verb+": "+x.Name, "Next: ") }

// boxName is a blank with the number that its meter has on the drawing.
func boxName(x report.CardStep, i int) string {
	name := x.Boxes[i].Name
	if len(x.Boxes) > 1 {
		name = number(i+1) + " " + name
	}
	if x.Boxes[i].Optional {
		name += " (may be left out)"
	}
	return capital(name)
}

func boxLimits(b report.Box) []string {
	var out []string
	for _, l := range b.LimitWords() {
		out = append(out, textLines(l)...)
	}
	return out
}

// journalWords is the journal that a signed sheet rests on.
func journalWords(c report.Cover) string {
	if c.Head == "" {
		return ""
	}
	return ", journal " + c.Head
}

func paperName(letter bool) string {
	if letter {
		return "Letter"
	}
	return "A4"
}

func nonEmptyOr(text, other string) string {
	if text == "" {
		return other
	}
	return text
}
