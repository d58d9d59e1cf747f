package machine

import (
	"fmt"

	"gonum.org/v1/gonum/interp"
)

// curve is something against the field current: a figure that stays, or
// measured points with a monotone cubic through them (Fritsch and Butland 1984),
// which ends where the points end.
type curve struct {
	x, y []float64
	fit  interp.FritschButland
}

// newCurve joins points whose x rise; two are the least.
func newCurve(x, y []float64) *curve {
	c := &curve{x: x, y: y}
	_ = c.fit.Fit(x, y) // it never returns an error
	return c
}

// at is the curve at a field current [A]. Outside the points there is no value.
func (c *curve) at(field float64) (float64, error) {
	if lo, hi := c.x[0], c.x[len(c.x)-1]; field < lo || field > hi {
		return 0, &beyond{field, lo, hi}
	}
	return c.fit.Predict(field), nil
}

// beyond is a field current that no measured point brackets.
type beyond struct{ at, lo, hi float64 }

func (b *beyond) Error() string {
	return fmt.Sprintf("field current %.4g A is outside the measured points, %.4g A to %.4g A", b.at, b.lo, b.hi)
}
