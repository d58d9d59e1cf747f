package regulator

import (
	"math"

	"chargewright/internal/smooth"
)

// The parameters of Contacts, in order. Duty, Drop and OnOhms are those of
// Device: 1 is the first pair closed all the time, 1/2 both open nearly all the
// time, 0 the second pair closed all the time; drop and resistance are the first
// pair's.
const (
	SeriesOhms    = OnOhms + 1 + iota // resistance that carries the field while the first pair is open [Ohm]
	CoilOhms                          // the winding that pulls the armature, supply to case [Ohm]
	ContactParams                     // how many
)

// Constants of the contacts; memory, docs/models/regulator.md.
const (
	secondOhms = 0.1 // the second pair closed, field terminal to case [Ohm]
	overlap    = 0.1 // w, over which the armature's swing reaches both pairs, of the range of one
)

// Contacts is the output stage of a regulator with vibrating contacts on the
// supply side of the field. It is a circuit.Device with the terminals supply,
// field and case, and one unknown, the current [A] out of the field terminal.
//
// The first pair, closed at rest, feeds the field. When it opens, a resistance
// across it goes on feeding: the field is never broken, only weakened. When the
// voltage rises further the armature closes a second pair, which earths the
// field terminal; then the field's current dies away through it, and the supply
// loses what the resistance takes. Averaged over the vibration the field terminal
// stands at the mean of the three, each for its share of the time. The shares
// follow from one number, Duty: from 1 to 1/2 the first pair works, from 1/2 to 0
// the second, and about 1/2 the armature's swing reaches both now and then.
//
// Without supply the first pair is closed; without an earth the winding pulls
// nothing, and it stays closed. So unlike an electronic output stage this one
// has no voltage under which it sleeps.
type Contacts struct {
	Volts float64 // nominal of the system [V]: 6, 12, 24; 0 means 12
}

// Healthy returns the parameters of contacts in order at a duty, for 12 V
// (memory: clean contacts lose little, resistance 5 to 15 ohm, the winding takes
// 0.2 A).
func (Contacts) Healthy(duty float64) []float64 {
	return []float64{Duty: duty, Drop: 0.1, OnOhms: 0.05, SeriesOhms: 10, CoilOhms: 60}
}

// HealthyLaw returns the parameters of Law for contacts in order at their own
// temperature [K] (memory: -15 to -20 mV/K, both pairs together 0.4 to 0.8 V).
func (c Contacts) HealthyLaw(kelvin float64) []float64 {
	k := scale(c.Volts)
	return []float64{SetPoint: 14.2 * k, Slope: -0.017 * k, Band: 0.5 * k, Temperature: kelvin, Stuck: 0}
}

// Size returns three terminals (supply, field, case), one unknown (the current
// out of the field terminal [A]) and the parameters.
func (Contacts) Size() (terminals, unknowns, params int) { return 3, 1, ContactParams }

// shares are how much of the time each pair is closed; in between the
// resistance alone feeds. The first less the second is 2 Duty - 1.
type shares struct {
	first, second   float64
	dFirst, dSecond float64 // slopes by duty
}

func sharesOf(duty float64) (s shares) {
	d, slope := smooth.Clamp(duty, 0, 1, 0.01)
	rest, _ := part(-1, overlap)
	s.first, s.dFirst = part(2*d-1, overlap)
	s.second, s.dSecond = part(1-2*d, overlap)
	s.first, s.second = s.first-rest, s.second-rest
	s.dFirst *= 2 * slope
	s.dSecond *= -2 * slope
	return s
}

// pairs are the three ways of the field terminal at one point: the volts at
// which it stands with the first pair closed, with the resistance alone and
// with the second pair closed.
type pairs struct {
	shares
	closed, open, earthed float64 // [V]
	taken                 float64 // through the resistance with the second pair closed [A]

	sign, dSign   float64 // of the current
	drop, dDrop   float64
	on, dOn       float64 // [Ohm]
	series, dRest float64 // [Ohm]
	coil, dCoil   float64 // [Ohm]
	both          float64 // first pair and resistance side by side [Ohm]
	portion       float64 // of the current that takes the first pair
	g             float64 // resistance and second pair, as seen from the field [S]
}

// at evaluates them. Outside their ranges parameters are clamped smoothly as in
// Device; the resistance stays above 0.1 Ohm and the winding above 0.5 Ohm.
func (c Contacts) at(x, p []float64) (o pairs) {
	o.shares = sharesOf(p[Duty])
	o.drop, o.dDrop = smooth.Floor(p[Drop], 0.01, 0.01)
	o.on, o.dOn = smooth.Floor(p[OnOhms], 1e-3, 5e-4)
	o.series, o.dRest = smooth.Floor(p[SeriesOhms], 0.2, 0.1)
	o.coil, o.dCoil = smooth.Floor(p[CoilOhms], 1, 0.5)
	i := x[current]
	root := math.Hypot(i, knee)
	o.sign, o.dSign = i/root, knee/root*(knee/root)/root

	o.portion = o.series / (o.on + o.series)
	o.both = o.on * o.portion
	o.g = 1/o.series + 1/secondOhms
	o.closed = x[supply] - o.both*i - o.portion*o.drop*o.sign
	o.open = x[supply] - o.series*i
	o.earthed = (x[supply]/o.series + x[ground]/secondOhms - i) / o.g
	o.taken = (x[supply] - o.earthed) / o.series
	return o
}

// Stamp writes the terminal currents and the residual of the field terminal's
// mean voltage: the volts left over to drive the current, which fall as it grows.
func (c Contacts) Stamp(x, p, f, jac []float64) {
	o := c.at(x, p)
	i, a, e := x[current], o.first, o.second
	b := 1 - a - e
	own := (x[supply] - x[ground]) / o.coil
	f[supply] = own + (a+b)*i + e*o.taken
	f[field] = -i
	f[ground] = -own + e*(i-o.taken)
	f[current] = a*o.closed + b*o.open + e*o.earthed - x[field]

	bySupply, byEarth := 1/(o.g*o.series), 1/(o.g*secondOhms) // of the earthed terminal; they add up to 1
	lost := 1/o.coil + e*byEarth/o.series
	put := func(row int, bySupply, byField, byGround, byCurrent float64) {
		copy(jac[row*size:], []float64{bySupply, byField, byGround, byCurrent})
	}
	put(supply, lost, 0, -lost, a+b+e*bySupply)
	put(field, 0, 0, 0, -1)
	put(ground, -lost, 0, lost, e*byEarth)
	put(current,
		a+b+e*bySupply, -1, e*byEarth,
		-a*(o.both+o.portion*o.drop*o.dSign)-b*o.series-e/o.g)
}

// Grad writes the derivatives of Stamp's f by the parameters.
func (c Contacts) Grad(x, p, dfdp []float64) {
	o := c.at(x, p)
	i, a, e := x[current], o.first, o.second
	b := 1 - a - e
	whole := o.on + o.series
	other := o.on / whole // part of the current that takes the resistance
	row := func(k int) []float64 { return dfdp[k*ContactParams : (k+1)*ContactParams] }

	row(supply)[Duty] = o.dSecond * (o.taken - i)
	row(ground)[Duty] = -row(supply)[Duty]
	less := e * o.taken / (o.g * secondOhms * o.series) * o.dRest
	row(supply)[SeriesOhms], row(ground)[SeriesOhms] = -less, less
	held := (x[supply] - x[ground]) / (o.coil * o.coil) * o.dCoil
	row(supply)[CoilOhms], row(ground)[CoilOhms] = -held, held

	own := row(current)
	own[Duty] = o.dFirst*(o.closed-o.open) + o.dSecond*(o.earthed-o.open)
	own[Drop] = -a * o.portion * o.sign * o.dDrop
	own[OnOhms] = -a * o.portion * (o.portion*i - o.drop*o.sign/whole) * o.dOn
	own[SeriesOhms] = -(a*other*(other*i+o.drop*o.sign/whole) + b*i + e*o.taken/(o.g*o.series)) * o.dRest
}
