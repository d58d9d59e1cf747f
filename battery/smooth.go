package battery

import "math"

// clampTo leaves x alone within lo..hi and lets it creep at most width further
// outside. The tangent hyperbolic has slope 1 and no curvature at 0, so the
// joins are C2 and nothing inside is distorted. Returns the derivative as well.
func clampTo(x, lo, hi, width float64) (y, slope float64) {
	switch {
	case x < lo:
		t := math.Tanh((x - lo) / width)
		return lo + width*t, 1 - t*t
	case x > hi:
		t := math.Tanh((x - hi) / width)
		return hi + width*t, 1 - t*t
	}
	return x, 1
}

// floorAt is clampTo without an upper end.
func floorAt(x, lo, width float64) (y, slope float64) {
	return clampTo(x, lo, math.MaxFloat64, width)
}

// ramp is nothing for x <= 0 and x for x >= width, C2 in between. It rises
// throughout: its slope is between 0 and 1.9.
func ramp(x, width float64) (y, slope float64) {
	switch t := x / width; {
	case t <= 0:
		return 0, 0
	case t >= 1:
		return x, 1
	default:
		s := t * t * t * (10 + t*(6*t-15))
		ds := 30 * t * t * (1 - t) * (1 - t)
		return x * s, s + t*ds
	}
}

// expTo is the exponential up to top and its tangent beyond, so that a wild
// Newton step meets no overflow.
func expTo(x, top float64) (y, slope float64) {
	if x > top {
		e := math.Exp(top)
		return e * (1 + x - top), e
	}
	e := math.Exp(x)
	return e, e
}
