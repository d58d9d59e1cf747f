package machine

import "math"

// Diode is a Shockley diode with a series resistance.
type Diode struct {
	Saturation float64 // [A]
	Emission   float64 // ideality factor n [1]
	Ohms       float64 // series resistance [Ohm]
}

// thermalVolts is kT/q at 27 degrees C [V], the temperature at which simulators
// state diode parameters (CODATA 2018 k and q).
const thermalVolts = 1.380649e-23 / 1.602176634e-19 * 300.15

// PressFit is the rectifier diode of this model: 0.56 V at 10 mA and 1.02 V at
// 30 A. Basis: computed fit to ordinary press-fit diodes, memory.
var PressFit = Diode{Saturation: 5e-9, Emission: 1.5, Ohms: 5e-3}

// Drop returns the voltage across the junction alone, without the series
// resistance [V], at i [A].
func (d Diode) Drop(i float64) float64 {
	return d.Emission * thermalVolts * math.Log1p(i/d.Saturation)
}

// junction is a diode made ready for the time-domain solver:
// i = (nVt/r) w(z) - Is with w the Wright omega function, which is the exact
// solution of i = Is (exp((v - r i)/nVt) - 1) [closed form: Corless et al. 1996].
type junction struct {
	is, r, nvt float64
	z0         float64 // ln(Is r / nVt) + Is r / nVt
	leak       float64 // [S]
}

func newJunction(is, nvt, r, leak float64) junction {
	a := is * r / nvt
	return junction{is: is, r: r, nvt: nvt, z0: math.Log(a) + a, leak: leak}
}

// at returns current [A] and slope [S] at the voltage v [V].
func (j *junction) at(v float64) (i, g float64) {
	z := v/j.nvt + j.z0
	if z < -60 {
		return j.leak*v - j.is, j.leak
	}
	w := wrightOmega(z)
	return j.nvt/j.r*w - j.is + j.leak*v, w/((1+w)*j.r) + j.leak
}

// wrightOmega returns w with w + ln w = z for real z. Start values and the
// fourth-order step: Lawrence, Corless and Jeffrey, ACM TOMS 38 (2012), 917.
func wrightOmega(z float64) float64 {
	var w float64
	switch {
	case z < -36: // w + ln w = z with w below the rounding of z
		return math.Exp(z)
	case z < -2:
		w = math.Exp(z)
		w *= 1 - w*(1-1.5*w)
	case z < math.Pi:
		t := z - 1
		w = 1 + t*(0.5+t*(1.0/16-t*(1.0/192+t/3072)))
	default:
		l := math.Log(z)
		w = z - l + l/z
	}
	for range 2 {
		r := z - w - math.Log(w)
		q := w + 1
		t := q * (q + 2.0/3*r)
		w *= 1 + r/q*(t-r/2)/(t-r)
		if math.Abs(r) < 1e-4 { // the step leaves an error of order r^4
			break
		}
	}
	return w
}
