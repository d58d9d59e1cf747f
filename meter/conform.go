package meter

import (
	"errors"
	"math"
)

// Verdict is the three-way word shown beside a value with limits.
type Verdict string

// The verdicts. "Cannot tell" means that the instrument cannot settle it.
const (
	Within     Verdict = "within"
	CannotTell Verdict = "cannot tell"
	Outside    Verdict = "outside"
)

// Confidence is the probability from which a verdict is given, 95 %: the usual
// level for proving conformity, ILAC G8:09/2019 (read).
const Confidence = 0.95

// Judge turns the probability of being within limits into a word. It is for
// people only: inference uses the reading, never the verdict.
func Judge(p float64) Verdict {
	switch {
	case p >= Confidence:
		return Within
	case p <= 1-Confidence:
		return Outside
	}
	return CannotTell
}

// PWithin is the probability that the true value stands within the limits when
// y was read with standard uncertainty u, with a flat prior; a nil limit is no
// limit. Numbers that are not finite, and low above high, settle nothing and
// give 0.5. u = 0 decides by y itself. Source: JCGM 106:2012 7.
func PWithin(y, u float64, low, high *float64) float64 {
	if math.IsNaN(y) || math.IsInf(y, 0) || math.IsNaN(u) || math.IsInf(u, 0) || u < 0 {
		return 0.5
	}
	lo, hi := math.Inf(-1), math.Inf(1)
	if low != nil {
		lo = *low
	}
	if high != nil {
		hi = *high
	}
	if math.IsNaN(lo) || math.IsNaN(hi) || lo > hi {
		return 0.5
	}
	if u == 0 {
		if y >= lo && y <= hi {
			return 1
		}
		return 0
	}
	return between((lo-y)/u, (hi-y)/u)
}

// between is the standard normal probability of a..b, from the tail that keeps
// its digits.
func between(a, b float64) float64 {
	if a > 0 {
		a, b = -b, -a
	}
	below := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	if b <= 0 {
		return below(b) - below(a)
	}
	return 1 - below(-b) - below(a)
}

// Posterior combines a reading y with standard uncertainty u and a normal prior
// with mean m and standard deviation s: mean and standard deviation of the true
// value. With u and s both 0 the prior stands. Source: JCGM 106:2012 A.4.4
// (memory of the clause).
func Posterior(y, u, m, s float64) (mean, sd float64) {
	total := u*u + s*s
	if total == 0 {
		return m, 0
	}
	w := s * s / total
	return m + w*(y-m), math.Sqrt(w) * u
}

// Risk holds what a decision rule costs over many items.
type Risk struct {
	Conform  float64 // share of items truly within the limits
	Consumer float64 // share that is accepted and not within
	Producer float64 // share that is within and not accepted
}

// Risks computes the shares for items drawn from a normal law (mean m, sd s),
// measured with standard uncertainty u, true limits low..high and acceptance
// from accLow to accHigh. s and u above 0. Source: JCGM 106:2012 9.5; integrals
// by Simpson's rule, good to 1e-10.
func Risks(m, s, u, low, high, accLow, accHigh float64) (Risk, error) {
	if !(s > 0) || !(u > 0) || math.IsInf(s, 0) || math.IsInf(u, 0) || math.IsNaN(m+low+high+accLow+accHigh) {
		return Risk{}, errors.New("the spread of the items and the uncertainty must be above zero, and limits numbers")
	}
	// Accepted share at true value x, weighted by the prior.
	accepted := func(x float64) float64 {
		z := (x - m) / s
		return math.Exp(-z*z/2) / (s * math.Sqrt(2*math.Pi)) * between((accLow-x)/u, (accHigh-x)/u)
	}
	const reach = 10 // standard deviations beyond which nothing is left
	from, to := m-reach*s, m+reach*s
	clip := func(x float64) float64 { return math.Min(math.Max(x, from), to) }
	r := Risk{Conform: between((low-m)/s, (high-m)/s)}
	r.Consumer = simpson(accepted, from, clip(low), u) + simpson(accepted, clip(high), to, u)
	r.Producer = r.Conform - simpson(accepted, clip(low), clip(high), u)
	return r, nil
}

// simpson integrates f over a..b with steps no wider than a tenth of the finest
// detail.
func simpson(f func(float64) float64, a, b, detail float64) float64 {
	if !(b > a) {
		return 0
	}
	n := 4000
	if want := 10 * (b - a) / detail; want > float64(n) {
		n = 2 * int(math.Min(want, 1e6)/2) // even, as the rule asks
	}
	h := (b - a) / float64(n)
	sum := f(a) + f(b)
	for i := 1; i < n; i++ {
		sum += float64(2+2*(i&1)) * f(a+float64(i)*h)
	}
	return sum * h / 3
}
