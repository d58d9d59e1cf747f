package diagnosis

import (
	"math"

	"chargewright/question"
)

// A value that is wrong is not wrong anyhow. Half the time it may be anything
// on the meter; the other half it is one of the slips that technicians make, and
// then the model says what it reads: nothing (a probe that does not touch, a
// blown fuse in the ammeter), ten times or a thousandth (range or unit), the
// other sign (leads reversed). The shares are memory, rough.
const (
	anywhere  = 0.5
	eachSlip  = (1 - anywhere) / 4
	slipWidth = 1e-3 // width of a zero on the meter, share of the box
)

// wrongDensity is p(value | it is wrong) where the right reading would be
// normal with mean h and total standard deviation s.
func (d *datum) wrongDensity(h, s float64) float64 {
	if d.how != question.Measured {
		return 0.5 // an interval or an end of the range is as wrong as right
	}
	zero := math.Max(d.s, slipWidth*d.box)
	return anywhere*d.uniform() + eachSlip*(normal(d.y, zero)+
		normal(d.y-10*h, 10*s)+normal(d.y-h/1000, zero)+normal(d.y+h, s))
}

// beyondBox is what is left for a value outside the range that a wrong one is
// spread over, as a share of the density inside: nobody would write it down, but
// nothing is impossible. It adds 1e-4 of mass a box width, which is left there.
const beyondBox = 1e-4

// uniform is the density of a value that may be anything on the meter.
func (d *datum) uniform() float64 {
	if d.y >= d.boxLow && d.y <= d.boxLow+d.box {
		return 1 / d.box
	}
	return beyondBox / d.box
}

func normal(x, s float64) float64 {
	return math.Exp(-x*x/(2*s*s)) / (s * math.Sqrt(2*math.Pi))
}

// logWrong is the log of epsilon times wrongDensity.
func (d *datum) logWrong(eps, h, s float64) float64 { return math.Log(eps * d.wrongDensity(h, s)) }
