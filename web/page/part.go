//go:generate go run github.com/a-h/templ/cmd/templ@v0.3.1100 generate -path .

package page

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"chargewright/advice"
)

// Portion is a cause's part of the whole.
type Portion = advice.Portion

// SignInForm is the form of a sign-in.
type SignInForm struct {
	To, Name, Problem string
	Nobody            bool   // there is no account yet
	Instead           string // why no passkey can be used here, where some have one
}

// OwnerForm is the form of a one-time link.
type OwnerForm struct {
	To, Head, Name string
	Does           string // what the role does
	Problems       []string
}

// Caution is a caution with its hazard word set off.
type Caution struct{ Head, Rest string }

// caution sets off the first part of a caution.
func caution(c advice.Cautions) Caution {
	head, rest := c.Parts()
	return Caution{head, rest}
}

func cautionsOf(list []advice.Cautions) []Caution {
	var out []Caution
	for _, c := range list {
		out = append(out, caution(c))
	}
	return out
}

// sharedBlack is the point on which the black leads of several meters are, nil
// where they are not all on one.
func sharedBlack(list []advice.Lead) *advice.Point {
	for _, m := range list {
		if m.Red == nil || m.Black == nil || m.Black.ID != list[0].Black.ID || len(list) < 2 {
			return nil
		}
	}
	if len(list) == 0 {
		return nil
	}
	return list[0].Black
}

// line and band are a chart's curve and the room about it, as a path in a square.
func (c Chart) line() string {
	d := "M"
	for _, p := range c.Points {
		d += spot(p.X, p.Y)
	}
	return d
}

func (c Chart) band() string {
	d := "M"
	for _, p := range c.Points {
		d += spot(p.X, p.High)
	}
	for _, p := range slices.Backward(c.Points) {
		d += spot(p.X, p.Low)
	}
	return d + "Z"
}

func spot(x, y float64) string {
	return strconv.FormatFloat(x, 'f', 4, 64) + " " + strconv.FormatFloat(1-y, 'f', 4, 64) + " "
}

func onOff(b bool) string {
	if b {
		return "on"
	}
	return "off"
}

func number(n int) string { return strconv.Itoa(n) }

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// afterReadings says on how many readings something rests.
func afterReadings(n int) string {
	if n == 0 {
		return "before any reading"
	}
	return "after " + plural(n, "reading", "readings")
}

// keyList are the single keys, as the script has them.
var keyList = []Link{
	{Text: "n", To: "to the next step"},
	{Text: "r", To: "to the reading's box"},
	{Text: "space", To: "tick the current line"},
	{Text: "u", To: "the other unit"},
	{Text: "x", To: "could not take it"},
	{Text: "o", To: "something else"},
	{Text: "d", To: "the whole circuit"},
	{Text: "s", To: "the likely causes"},
	{Text: "l", To: "the log"},
	{Text: "?", To: "this page"},
	{Text: "Enter", To: "enters the reading"},
	{Text: "Esc", To: "folds what was unfolded"},
}

// portionWords says a bar in words.
func portionWords(list []Portion) string {
	var out []string
	for _, p := range list {
		out = append(out, p.Name+" "+p.Percent)
	}
	return strings.Join(out, ", ")
}

func curedChoices(now string) []Choice {
	return []Choice{
		{ID: "yes", Text: "Yes", On: now == "yes"},
		{ID: "no", Text: "No", On: now == "no"},
		{ID: "unknown", Text: "Not known yet", On: now == "unknown"},
	}
}

func nonEmpty(list ...string) []string {
	var out []string
	for _, x := range list {
		if x != "" {
			out = append(out, x)
		}
	}
	return out
}

// jobNumber names a job; "" when it has no number.
func jobNumber(id string) string {
	if id == "" {
		return ""
	}
	return "Job " + id
}

// anyOn says whether something is chosen.
func anyOn(lists ...[]Choice) bool {
	for _, l := range lists {
		for _, c := range l {
			if c.On {
				return true
			}
		}
	}
	return false
}

// Unbroken keeps numbers and their units on one line.
func Unbroken(s string) string { return beforeUnit.ReplaceAllString(s, "$1\u00a0$2") }

var beforeUnit = regexp.MustCompile(`([0-9]) ((?:[mk]?[VAΩ]|W|rpm|min|%|°C)(?:[^\pL]|$))`)

func capital(s string) string { return advice.Capital(s) }

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func first12(s string) string {
	const most = 12
	if len(s) > most {
		return s[:most]
	}
	return s
}

// side says whether a reading speaks for a cause or against it.
func side(speaks bool) string {
	if speaks {
		return "for"
	}
	return "against"
}
