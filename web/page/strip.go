package page

import (
	"strconv"
	"strings"

	"chargewright/advice"
)

// Mark is a typed value on a strip.
type Mark struct {
	Strip int
	At    float64
	Text  string
}

func markOf(list []Mark, strip int) *Mark {
	for i := range list {
		if list[i].Strip == strip {
			return &list[i]
		}
	}
	return nil
}

// percent writes a position from 0 to 1 as a length.
func percent(t float64) string { return strconv.FormatFloat(100*t, 'f', 2, 64) + "%" }

// anchor keeps words at the ends of a strip on it.
func anchor(t float64) string {
	switch {
	case t < 0.3:
		return "start"
	case t > 0.7:
		return "end"
	}
	return "middle"
}

func clipID(box string, row int) string {
	clean := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			return r
		}
		return '-'
	}, box)
	return "c-" + clean + "-" + strconv.Itoa(row)
}

// Lanes of a strip as they are drawn at the least [px], and what a sign takes in
// them.
const (
	LaneNarrow = 240
	LaneWide   = 420
	SignWidth  = 9
)

// ZoneWords names a stretch with as many letters as it has room for in a lane;
// "" when it has room for none, or two names would run into each other.
func ZoneWords(z advice.Zone, lane float64) string {
	room := int(z.Width * lane / SignWidth)
	fits := func(s string) bool { return len([]rune(s)) <= room }
	if len(z.Letters) == 0 {
		if fits(z.Text) {
			return z.Text
		}
		return ""
	}
	all := strings.Join(z.Letters, " ")
	for n := len(z.Letters); n > 0 && !fits(all); n-- {
		all = strings.Join(z.Letters[:n-1], " ") + " …"
	}
	if !fits(all) || all == " …" {
		return ""
	}
	return all
}

// short keeps a source on one line.
func short(s string) string {
	const most = 34
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// padKeys are the keys of the keypad, row by row; the last is two keys wide.
var padKeys = []Link{
	{Text: "7", To: "7"},
	{Text: "8", To: "8"},
	{Text: "9", To: "9"},
	{Text: "back", To: "back"},
	{Text: "over", To: "over"},
	{Text: "4", To: "4"},
	{Text: "5", To: "5"},
	{Text: "6", To: "6"},
	{Text: "clear", To: "clear"},
	{Text: "under", To: "under"},
	{Text: "1", To: "1"},
	{Text: "2", To: "2"},
	{Text: "3", To: "3"},
	{Text: "−", To: "-"},
	{Text: "to", To: "to"},
	{Text: "0", To: "0"},
	{Text: ".", To: "."},
	{Text: "again", To: "again"},
	{Text: "next", To: "next"},
}

// showedChoices say how a number is meant where there is no keyboard for words
// and no script for the keypad.
var showedChoices = []Choice{{ID: "", Text: "it showed"}, {ID: "over", Text: "over"}, {ID: "under", Text: "under"}}

func showingChoices(now string) []Choice {
	return []Choice{
		{ID: "yes", Text: "Yes, it was there", On: now == "yes"},
		{ID: "no", Text: "No, not just then", On: now == "no"},
		{ID: "", Text: "Cannot tell", On: now != "yes" && now != "no"},
	}
}
