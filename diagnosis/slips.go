package diagnosis

import (
	"math"

	"chargewright/question"
)

// A value that is wrong is not wrong anyhow. Half the time it may be anything
// on the meter; the other half it is one of the slips that technicians make, and
// then the model says what it reads: nothing (a probe that does not touch, a
// blown fuse in the ammeter), the point or the range missed (ten, a hundred or a
// thousand times, or a tenth), a thousandth (unit), the other sign (leads
// reversed). The shares are memory, rough.
const (
	anywhere  = 0.5
	eachSlip  = (1 - anywhere) / 4
	slipWidth = 1e-3 // width of a zero on the meter, share of the box
)

// Slip is what went wrong with a value.
type Slip string

// The slips.
const (
	NoSlip     Slip = ""
	NoContact  Slip = "nothing"    // reads nothing
	PointSlip  Slip = "point"      // the point, or the range
	MilliSlip  Slip = "milli"      // a unit with milli or kilo for one without, or the other way round
	LeadsSwaps Slip = "other-sign" // leads or clamp the other way round
)

// timesSlips are the slips that multiply: a right reading of 12.21 V is written down
// as times of it.
var timesSlips = []struct {
	slip  Slip
	times float64
	share float64
}{
	{PointSlip, 10, eachSlip / 4},
	{PointSlip, 100, eachSlip / 4},
	{PointSlip, 0.1, eachSlip / 4},
	{MilliSlip, 1000, eachSlip / 4},
	{MilliSlip, 1e-3, eachSlip},
	{LeadsSwaps, -1, eachSlip},
}

// zero is how wide a zero is on the meter.
func (d *datum) zero() float64 { return math.Max(d.s, slipWidth*d.box) }

// slipped is p(value | it is one of timesSlips) where the right reading would be
// normal with mean h and total standard deviation s.
func (d *datum) slipped(times, h, s float64) float64 {
	sd := math.Abs(times) * s
	if math.Abs(times) < 1 {
		sd = math.Max(sd, d.zero()) // no finer than the meter shows it
	}
	return normal(d.y-times*h, sd)
}

// wrongDensity is p(value | it is wrong) where the right reading would be
// normal with mean h and total standard deviation s.
func (d *datum) wrongDensity(h, s float64) float64 {
	if d.how != question.Measured {
		return 0.5 // an interval or an end of the range is as wrong as right
	}
	p := anywhere*d.uniform() + eachSlip*normal(d.y, d.zero())
	for i := range timesSlips {
		p += timesSlips[i].share * d.slipped(timesSlips[i].times, h, s)
	}
	return p
}

// beyondBox is what is left for a value outside the range that a wrong one is
// spread over, as a share of the density inside: nobody would write it down, but
// nothing is impossible. It adds 1e-4 of mass a box width, which is left there.
const beyondBox = 1e-4

// uniform is the density of a value that may be anything on the meter.
func (d *datum) uniform() float64 {
	if d.inBox() {
		return 1 / d.box
	}
	return beyondBox / d.box
}

func (d *datum) inBox() bool { return d.y >= d.boxLow && d.y <= d.boxLow+d.box }

func normal(x, s float64) float64 {
	return math.Exp(-x*x/(2*s*s)) / (s * math.Sqrt(2*math.Pi))
}

// logWrong is the log of epsilon times wrongDensity.
func (d *datum) logWrong(eps, h, s float64) float64 { return math.Log(eps * d.wrongDensity(h, s)) }
