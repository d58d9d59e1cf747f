package advice

import (
	"maps"
	"strconv"
	"strings"

	"chargewright/diagnosis"
)

// letterRow are the letters that likely causes are called by: none that a
// circuit symbol or a meter uses.
const letterRow = "HJKNPSTWXYZ"

// Fills are the patterns that tell causes apart where they stand side by side.
var Fills = []string{"solid", "slant", "dots", "upright", "level"}

// lettering gives suspects their letters as they become likely: whoever has one
// keeps it. After the last letter the row begins again with a number.
func (d *Desk) lettering(b *diagnosis.Belief, known map[string]string) map[string]string {
	out := maps.Clone(known)
	if out == nil {
		out = map[string]string{}
	}
	for i, x := range b.Suspects(d.groups) {
		if x.Probability < shownFrom || i == shownMost {
			break
		}
		for _, id := range strings.Split(x.ID, "+") {
			if n := len(out); out[id] == "" {
				out[id] = string(letterRow[n%len(letterRow)])
				if round := n / len(letterRow); round > 0 {
					out[id] += strconv.Itoa(round + 1)
				}
			}
		}
	}
	return out
}

// Letter is a suspect's letter; two faults together have both, and none of
// these has a question mark.
func (s *Standing) Letter(suspect string) string { return s.letter(suspect) }

func (d *Desk) letter(suspect string) string {
	switch suspect {
	case noneOf:
		return "?"
	case noFault, "":
		return "0"
	}
	var out []string
	for _, id := range strings.Split(suspect, "+") {
		if l := d.letterOf[id]; l != "" {
			out = append(out, l)
		}
	}
	return strings.Join(out, "+")
}

// Fill is the pattern of a suspect's bar and hump.
func Fill(letter string) string {
	switch letter {
	case "?":
		return "empty"
	case "0":
		return "blank"
	}
	return Fills[max(0, strings.IndexByte(letterRow, (letter + "H")[0]))%len(Fills)]
}
