package battery

import "math"

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
