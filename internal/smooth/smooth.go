// Package smooth holds the C2 corners that the device models share: clamps,
// floors and ramps whose slope is known, so that Newton's method meets no kink.
// It holds nothing else.
package smooth

import "math"

// Clamp leaves x alone within lo..hi and lets it creep at most width further
// outside. The tangent hyperbolic has slope 1 and no curvature at 0, so the
// joins are C2 and nothing inside is distorted. Returns the derivative as well.
func Clamp(x, lo, hi, width float64) (y, slope float64) {
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

// Floor is Clamp without an upper end.
func Floor(x, lo, width float64) (y, slope float64) {
	return Clamp(x, lo, math.MaxFloat64, width)
}

// Rise goes from 0 at t <= 0 to 1 at t >= 1, C2.
func Rise(t float64) (y, slope float64) {
	switch {
	case t <= 0:
		return 0, 0
	case t >= 1:
		return 1, 0
	}
	return t * t * t * (10 + t*(6*t-15)), 30 * t * t * (1 - t) * (1 - t)
}

// Ramp is nothing for x <= 0 and x for x >= width, C2 and rising in between:
// its slope is between 0 and 1.9.
func Ramp(x, width float64) (y, slope float64) {
	s, ds := Rise(x / width)
	return x * s, s + x/width*ds
}
