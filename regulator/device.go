// Package regulator models the regulator of an alternator, averaged over its
// switching: the output stage as a circuit element with a duty, and the law that
// gives the duty from the sensed voltage. There are six output stages: an
// electronic one on the earth side of the field (Device), the same with a sense
// wire of its own (Sensing), built into the machine and fed with the field by field
// diodes (SelfFed), woken by its lamp terminal (Inside) or commanded by a control
// unit (Commanded), and vibrating contacts on the supply side (Contacts).
//
// It refuses nothing and knows no fault: a fault is other parameters. The duty
// and the voltage it depends on are joined by the caller, because they close a
// feedback loop that may have more than one answer. What a control unit asks for
// is a set-point like any other (Law.Told). Open device.go for the output stage,
// law.go for the duty. Equations, ranges and sources: docs/models/regulator.md.
package regulator

import (
	"math"

	"chargewright/internal/smooth"
)

// The parameters of Device, in order.
const (
	Duty          = iota // share of the time that the output stage conducts, 0..1
	Drop                 // its saturation voltage [V]
	OnOhms               // its resistance [Ohm]
	Freewheel            // forward voltage of the freewheel diode [V]
	FreewheelOhms        // its resistance [Ohm]
	Params               // how many
)

// Constants of the output stage; all memory, docs/models/regulator.md.
const (
	knee      = 0.05      // i0 [A]: below it the fixed drops fade out
	ownDraw   = 1.0 / 600 // conductance supply to case, 20 mA at 12 V [S]
	blocking  = 1e4       // the freewheel diode in reverse [Ohm]
	blockOver = 0.02      // [A] over which it blocks
	asleep    = 4.0       // [V] supply to case below which nothing conducts, 12 V set
	awake     = 6.0       // [V] from which the output stage works fully
)

// Device is the output stage. It is a circuit.Device with the terminals supply,
// field and case, and one unknown, the current [A] into the field terminal.
//
// Why an average is enough: the field's L/R is about 0.2 H over 5 ohm, 40 ms,
// many times a switching period of 1 to 10 ms, so the field current hardly moves
// within a period, and the field terminal's mean voltage is the mean of what it
// is in the two halves: near the case for a share Duty, a diode above the supply
// for the rest. The same share of the current goes to the case and to the
// supply. Source: averaging of a switched linear circuit, worked out here.
type Device struct {
	Volts float64 // nominal of the system [V]: 6, 12, 24; 0 means 12
}

// scale is the nominal voltage over 12 V.
func scale(volts float64) float64 {
	if volts > 0 {
		return volts / 12
	}
	return 1
}

// Healthy returns the parameters of an output stage in order at a duty
// (memory: saturation 0.3 to 1.2 V, freewheel diode 0.8 V).
func (Device) Healthy(duty float64) []float64 {
	return []float64{Duty: duty, Drop: 0.6, OnOhms: 0.05, Freewheel: 0.7, FreewheelOhms: 0.04}
}

// positions in x and f
const (
	supply = iota
	field
	ground // the regulator's case
	current
	size
)

// Size returns three terminals (supply, field, case), one unknown (the current
// into the field terminal [A]) and the parameters.
func (Device) Size() (terminals, unknowns, params int) { return 3, 1, Params }

// coefficients of the output stage at one point.
type stage struct {
	d, dSupply, dDuty float64 // share of the time it conducts, and slopes
	s, ds             float64 // smooth sign of the current, and slope [1/A]
	n, dn             float64 // reverse part of the current [A], and slope
	drop, dDrop       float64
	on, dOn           float64
	fw, dFw           float64
	fwo, dFwo         float64
	own               float64 // conductance supply to case for its own use [S]
}

// at evaluates them. Outside their ranges parameters are clamped smoothly: duty
// 0..1 (0.01 more), resistances above 1 mOhm (half that at least), voltages above
// 0.01 V (0 at least).
func (d Device) at(x, p []float64) stage {
	k := scale(d.Volts)
	w, dw := smooth.Rise((x[supply] - x[ground] - asleep*k) / ((awake - asleep) * k))
	return stageAt(x, p, w, dw/((awake-asleep)*k), ownDraw)
}

// stageAt evaluates them for a stage that is awake by a share, with its slope by
// the supply, and draws something for itself [S].
func stageAt(x, p []float64, w, dw, own float64) stage {
	c := stage{own: own}
	duty, dDuty := smooth.Clamp(p[Duty], 0, 1, 0.01)
	c.d, c.dSupply, c.dDuty = duty*w, duty*dw, dDuty*w

	i := x[current]
	root := math.Hypot(i, knee)
	c.s, c.ds = i/root, knee/root*(knee/root)/root
	c.n, c.dn = smooth.Ramp(-i, blockOver)
	c.dn = -c.dn

	c.drop, c.dDrop = smooth.Floor(p[Drop], 0.01, 0.01)
	c.on, c.dOn = smooth.Floor(p[OnOhms], 1e-3, 5e-4)
	c.fw, c.dFw = smooth.Floor(p[Freewheel], 0.01, 0.01)
	c.fwo, c.dFwo = smooth.Floor(p[FreewheelOhms], 1e-3, 5e-4)
	return c
}

// low and high are the field terminal's voltage while the output stage conducts
// and while the freewheel diode does. Backwards the diode blocks: without that a
// field terminal shorted to earth would short the supply.
func (c stage) low(x []float64) float64 { return x[ground] + c.drop*c.s + c.on*x[current] }

func (c stage) high(x []float64) float64 {
	return x[supply] + c.fw*c.s + c.fwo*x[current] - blocking*c.n
}

// Stamp writes the terminal currents and the residual
// V_field - D V_low - (1-D) V_high = 0.
func (d Device) Stamp(x, p, f, jac []float64) { d.at(x, p).stamp(x, f, jac) }

func (c stage) stamp(x, f, jac []float64) {
	i, low, high := x[current], c.low(x), c.high(x)
	own := c.own * (x[supply] - x[ground])
	f[supply] = own - (1-c.d)*i
	f[field] = i
	f[ground] = -own - c.d*i
	f[current] = x[field] - c.d*low - (1-c.d)*high

	put := func(row int, bySupply, byField, byGround, byCurrent float64) {
		copy(jac[row*size:], []float64{bySupply, byField, byGround, byCurrent})
	}
	turn := c.dSupply // d D by supply; by case it is the opposite
	put(supply, c.own+turn*i, 0, -c.own-turn*i, -(1 - c.d))
	put(field, 0, 0, 0, 1)
	put(ground, -c.own-turn*i, 0, c.own+turn*i, -c.d)
	put(current,
		turn*(high-low)-(1-c.d), 1, -turn*(high-low)-c.d,
		-c.d*(c.drop*c.ds+c.on)-(1-c.d)*(c.fw*c.ds+c.fwo-blocking*c.dn))
}

// Grad writes the derivatives of Stamp's f by the parameters.
func (d Device) Grad(x, p, dfdp []float64) { d.at(x, p).grad(x, dfdp) }

func (c stage) grad(x, dfdp []float64) {
	i := x[current]
	dfdp[supply*Params+Duty] = c.dDuty * i
	dfdp[ground*Params+Duty] = -c.dDuty * i
	own := dfdp[current*Params : (current+1)*Params]
	own[Duty] = c.dDuty * (c.high(x) - c.low(x))
	own[Drop] = -c.d * c.s * c.dDrop
	own[OnOhms] = -c.d * i * c.dOn
	own[Freewheel] = -(1 - c.d) * c.s * c.dFw
	own[FreewheelOhms] = -(1 - c.d) * i * c.dFwo
}
