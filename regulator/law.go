package regulator

import "chargewright/internal/smooth"

// The parameters of Law, in order.
const (
	SetPoint    = iota // regulated voltage at 27 degC, middle of the band [V]
	Slope              // its change with temperature [V/K], below 0
	Band               // voltage over which the duty goes from 1 to 0 [V]
	Temperature        // of the regulator itself [K]
	Stuck              // -1 the output never conducts, 0 sound, 1 always
	LawParams          // how many
)

// Constants of the law; docs/models/regulator.md.
const (
	reference = 300.15 // [K] at which the set-point is stated
	corner    = 0.02   // w, softness of the duty's corners, of the band
	lowest    = 13.2   // [V] least and most that compensation asks for, 12 V set
	highest   = 15.0
	beyond    = 0.5   // [V] that a wrong set-point may go further
	bandFloor = 0.01  // [V] narrowest band
	bandCreep = 0.005 // [V] by which less is clamped smoothly
)

// Law gives the duty from the sensed voltage:
// duty = soft clamp of (V_set(T) + band/2 - v)/band to 0..1.
//
// The sensed voltage is whatever the sense wire's end carries: the caller takes
// it from the circuit. Below about 6 V supply an electronic output stage cannot
// turn on; that hangs on the supply, not on the sense, and stands in Device.
type Law struct {
	Volts float64 // nominal of the system [V]: 6, 12, 24; 0 means 12
	Told  bool    // a control unit says the set-point: nothing of it is clamped
}

// Healthy returns the parameters of a sound regulator at its own temperature [K]
// (memory: 13.8 to 14.4 V at 27 degC; about -10 mV/K and 0.1 to 0.3 V for
// electronic ones), for the nominal voltage.
func (l Law) Healthy(kelvin float64) []float64 {
	k := scale(l.Volts)
	return []float64{SetPoint: 14.1 * k, Slope: -0.010 * k, Band: 0.2 * k, Temperature: kelvin, Stuck: 0}
}

// middle is the voltage [V] at which a sound regulator stands at half duty.
func (l Law) middle(p []float64) (v, slope float64) {
	asked := p[SetPoint] + p[Slope]*(p[Temperature]-reference)
	if l.Told {
		return asked, 1
	}
	k := scale(l.Volts)
	return smooth.Clamp(asked, lowest*k, highest*k, beyond*k)
}

// soft is the duty of a sound regulator at x bands below the top of its band.
func soft(x float64) (d, slope float64) {
	if x > 0.5 { // mirror image: no difference of two large numbers
		d, slope = soft(1 - x)
		return 1 - d, slope
	}
	a, da := part(x, corner)
	b, db := part(x-1, corner)
	return a - b, da - db
}

// override is how far being stuck has replaced the law: 0 at 0, 1 at -1 and 1
// and beyond, C2, with which duty replaces it.
func override(stuck float64) (share, slope, to float64) {
	if stuck < 0 {
		share, slope = smooth.Rise(-stuck)
		return share, -slope, 0
	}
	share, slope = smooth.Rise(stuck)
	return share, slope, 1
}

// Duty returns the share of the time that the output stage conducts when v [V]
// is sensed, and its derivative by v [1/V], never positive.
func (l Law) Duty(v float64, p []float64) (d, dddv float64) {
	mid, _ := l.middle(p)
	band, _ := smooth.Floor(p[Band], bandFloor, bandCreep)
	law, slope := soft((mid-v)/band + 0.5)
	share, _, to := override(p[Stuck])
	return law + share*(to-law), -(1 - share) * slope / band
}

// Straight returns the middle of the law: a voltage [V], the duty there and its
// slope [1/V], 0 where the output is stuck.
func (l Law) Straight(p []float64) (v, d, slope float64) {
	v, _ = l.middle(p)
	d, slope = l.Duty(v, p)
	return v, d, slope
}

// Grad writes the derivatives of Duty by the parameters into out (length
// LawParams).
func (l Law) Grad(v float64, p, out []float64) {
	mid, dmid := l.middle(p)
	band, dband := smooth.Floor(p[Band], bandFloor, bandCreep)
	law, slope := soft((mid-v)/band + 0.5)
	share, dshare, to := override(p[Stuck])
	byMiddle := (1 - share) * slope / band * dmid
	out[SetPoint] = byMiddle
	out[Slope] = byMiddle * (p[Temperature] - reference)
	out[Temperature] = byMiddle * p[Slope]
	out[Band] = -(1 - share) * slope * (mid - v) / (band * band) * dband
	out[Stuck] = dshare * (to - law)
}
