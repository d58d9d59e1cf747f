package advice

import (
	"fmt"
	"math"
	"strings"
)

var groupWords = map[string]string{"when": "It shows: ", "before": "Just before: ", "noticed": "Noticed: ", "use": "Used: "}

// useLines say of a vehicle on which nothing is wrong what its use does to its
// battery. Basis: common practice.
var useLines = map[string]string{
	"short-trips":      "It is driven in short trips: they do not put back what starting takes. An hour on the road or a charger each week, then look again",
	"mostly-at-night":  "It is driven at night: lamps and heater leave little for the battery in town. A charger now and then, and the loads off at idle",
	"stands-for-weeks": "It stands for weeks: clock and alarm empty a sound battery. A charger that keeps it full, or the earth cable off",
}

// LeastBits [bit] is from when on a word or a reading is said to speak for something.
const LeastBits = 0.5

// ToldBound says how far what is told can count.
func ToldBound() string {
	t, err := toldTable()
	if err != nil {
		return "" // told_test.go reads the table
	}
	return fmt.Sprintf("What was told counts by shares from %s, for %g to 1 at most.", t.basis, t.most)
}

// Spoken puts what was told into words: "Just before: engine out".
func (h Heard) Spoken() string { return groupWords[h.Group] + strings.ReplaceAll(h.Word, "-", " ") }

// ToldLines are what was told, with what each word says of the leading cause.
func (a Advice) ToldLines() []string {
	var out []string
	for _, h := range a.Told {
		line := h.Spoken()
		if len(a.Suspects) > 0 {
			lead := a.Suspects[0]
			if bits, ok := h.Bits[lead.Faults[0].Fault]; ok && math.Abs(bits) >= LeastBits {
				way := "for"
				if bits < 0 {
					way = "against"
				}
				line += fmt.Sprintf(". Speaks %s %s, %s", way, lead.Name, Factor(bits))
			}
		}
		out = append(out, line+".")
	}
	return out
}
