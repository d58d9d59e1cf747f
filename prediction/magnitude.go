package prediction

import (
	"math"

	"chargewright/system"
)

// componentWidth is the standard deviation of a magnitude component over the
// spacing of the components: with 0.6 neighbours add up to a density flat to
// 0.2 %, which is half as high at the ends of the range [closed form: the first
// Fourier term is 2 exp(-2 pi^2 0.6^2)].
const componentWidth = 0.6

// MagnitudeComponent is component c of the n equal normals on log10 of a
// fault's magnitude: their means are spaced evenly over log10 Low..High.
func MagnitudeComponent(m *system.Magnitude, c, n int) (mean, sd float64) {
	lo, hi := math.Log10(m.Low), math.Log10(m.High)
	h := (hi - lo) / float64(n)
	return lo + h*(float64(c)+0.5), componentWidth * h
}
