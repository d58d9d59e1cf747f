package advice

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Odds puts a probability into the words of the trade: "3 to 1", "1 to 4",
// "evens".
func Odds(p float64) string {
	switch {
	case math.IsNaN(p) || p <= 0.001:
		return "under 1 to 1000"
	case p >= 0.999:
		return "over 1000 to 1"
	case p > 0.45 && p < 0.55:
		return "evens"
	case p > 0.5:
		return ratio(p/(1-p)) + " to 1"
	}
	return "1 to " + ratio((1-p)/p)
}

// Factor puts what a reading did to the odds into words: 2 to the bits.
func Factor(bits float64) string {
	f := math.Exp2(math.Abs(bits))
	if f >= 1000 {
		return "over 1000 to 1"
	}
	return ratio(f) + " to 1"
}

// ratio rounds as one says it: 1.5, 4, 30, 200.
func ratio(x float64) string {
	switch {
	case x < 1.95:
		return fmt.Sprintf("%.1f", x)
	case x < 9.5:
		return fmt.Sprintf("%.0f", x)
	case x < 95:
		return fmt.Sprintf("%.0f", math.Round(x/5)*5)
	}
	return fmt.Sprintf("%.0f", math.Round(x/50)*50)
}

// sortExpect puts the likeliest first; equal ones by id.
func sortExpect(e []Expect, share func(id string) float64) {
	slices.SortStableFunc(e, func(x, y Expect) int {
		if a, b := share(x.Suspect), share(y.Suspect); math.Abs(a-b) > 1e-6 {
			return cmp.Compare(b, a)
		}
		return cmp.Compare(x.Suspect, y.Suspect)
	})
}
