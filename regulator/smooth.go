package regulator

import "math"

// part is the algebraic soft positive part of x with corner width w, and its
// slope, which lies between 0 and 1.
func part(x, w float64) (y, slope float64) {
	root := math.Hypot(x, 2*w)
	if x < 0 { // the same number without the difference of two near ones
		return 2 * w * w / (root - x), (1 + x/root) / 2
	}
	return (x + root) / 2, (1 + x/root) / 2
}
