package regulator

import "math"

// clampTo leaves x alone within lo..hi and lets it creep at most width further
// outside; the tangent hyperbolic joins C2. Returns the derivative as well.
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

// rise goes from 0 at t <= 0 to 1 at t >= 1, C2.
func rise(t float64) (y, slope float64) {
	switch {
	case t <= 0:
		return 0, 0
	case t >= 1:
		return 1, 0
	}
	return t * t * t * (10 + t*(6*t-15)), 30 * t * t * (1 - t) * (1 - t)
}

// ramp is nothing for x <= 0 and x for x >= width, C2 and rising in between.
func ramp(x, width float64) (y, slope float64) {
	s, ds := rise(x / width)
	return x * s, s + x/width*ds
}

// part is the algebraic soft positive part of x with corner width w, and its
// slope, which lies between 0 and 1.
func part(x, w float64) (y, slope float64) {
	root := math.Hypot(x, 2*w)
	if x < 0 { // the same number without the difference of two near ones
		return 2 * w * w / (root - x), (1 + x/root) / 2
	}
	return (x + root) / 2, (1 + x/root) / 2
}
