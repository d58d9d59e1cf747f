// Package near compares numbers in tests: one number against its source, and a
// whole printed page against a stored golden file, number by number.
//
// It refuses an expected number without a source, and a tolerance of nothing
// at all. It is for tests only. Open near.go for single numbers, golden.go for
// golden files and what -update will not do.
package near

import (
	"math"
	"strings"
	"testing"
)

// Tol is how far a number may stand from the expected one: the larger of Abs
// and Rel times the expected number's size. Say in a comment why it is that
// wide.
type Tol struct {
	Rel float64 // share of the expected number
	Abs float64 // in the number's own unit
}

// Within says whether got stands within tol of want. NaN is within nothing;
// an infinity is within itself only.
func (tol Tol) Within(got, want float64) bool {
	if math.IsInf(want, 0) || math.IsInf(got, 0) {
		return got == want
	}
	return math.Abs(got-want) <= math.Max(tol.Abs, tol.Rel*math.Abs(want))
}

// sources are the ways an expected number may be known.
var sources = []string{"closed form:", "table:", "program:", "common practice", "memory", "golden:"}

// Sourced says whether source names one of the ways an expected number may be
// known and, after a colon, which one it is.
func Sourced(source string) bool {
	for _, s := range sources {
		if rest, ok := strings.CutPrefix(source, s); ok {
			return !strings.HasSuffix(s, ":") || strings.TrimSpace(rest) != ""
		}
	}
	return false
}

// Check reports a number outside its tolerance, with where the expected one
// comes from:
//
//	near.Check(t, "drop over the clamp", drop, 0.2, near.Tol{Rel: 1e-12}, "closed form: 20 A x 10 mOhm")
//
// A source that Sourced does not know is reported as well.
func Check(t testing.TB, what string, got, want float64, tol Tol, source string) {
	t.Helper()
	if !Sourced(source) {
		t.Errorf("%s: the expected number needs a source that begins with one of %q, not %q", what, sources, source)
	}
	if !tol.Within(got, want) {
		t.Errorf("%s: got %.9g, want %.9g (off by %.3g; allowed: %.3g of it, or %.3g)\n  source: %s",
			what, got, want, got-want, tol.Rel, tol.Abs, source)
	}
}
