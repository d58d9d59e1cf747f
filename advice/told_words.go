package advice

import (
	"fmt"
	"math"
	"strings"
)

var groupWords = map[string]string{"when": "It shows: ", "before": "Just before: ", "noticed": "Noticed: "}

// leastTold [bit] is from when on a word is said to speak for something.
const leastTold = 0.5

// Spoken puts what was told into words: "Just before: engine out".
func (h Heard) Spoken() string { return groupWords[h.Group] + strings.ReplaceAll(h.Word, "-", " ") }

// ToldLines are what was told, with what each word says of the leading cause.
func (a Advice) ToldLines() []string {
	var out []string
	for _, h := range a.Told {
		line := h.Spoken()
		if len(a.Suspects) > 0 {
			lead := a.Suspects[0]
			if bits, ok := h.Bits[lead.Faults[0].Fault]; ok && math.Abs(bits) >= leastTold {
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
