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

// zoneWords names a stretch as short as it must be.
func zoneWords(z advice.Zone) string {
	if len(z.Letters) == 0 {
		return short(z.Text)
	}
	const most = 3
	if len(z.Letters) > most {
		return strings.Join(z.Letters[:most], " ") + " …"
	}
	return strings.Join(z.Letters, " ")
}

// short keeps a source on one line.
func short(s string) string {
	const most = 34
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// padKeys are the keys of the keypad.
var padKeys = []Link{
	{Text: "7", To: "7"},
	{Text: "8", To: "8"},
	{Text: "9", To: "9"},
	{Text: "back", To: "back"},
	{Text: "4", To: "4"},
	{Text: "5", To: "5"},
	{Text: "6", To: "6"},
	{Text: "−", To: "-"},
	{Text: "1", To: "1"},
	{Text: "2", To: "2"},
	{Text: "3", To: "3"},
	{Text: ".", To: "."},
	{Text: "0", To: "0"},
	{Text: "over", To: "over"},
	{Text: "again", To: "again"},
	{Text: "next", To: "next"},
}

func showingChoices(now string) []Choice {
	return []Choice{
		{ID: "yes", Text: "Yes, it was there", On: now == "yes"},
		{ID: "no", Text: "No, not just then", On: now == "no"},
		{ID: "", Text: "Cannot tell", On: now != "yes" && now != "no"},
	}
}
