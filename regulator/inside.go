package regulator

import (
	"math"

	"chargewright/internal/smooth"
)

// The parameters of Inside and Commanded that follow those of Device, in order.
const (
	Turning         = Params + iota // 0 standing, 1 turning, as the regulator tells by its phase wire
	Standing                        // share of the duty that it allows while the machine stands, 0..1
	Phase                           // phase volts for an ampere of field at the present speed [V/A]
	LampOhms                        // the lamp driver while it conducts [Ohm]
	InsideParams                    // how many Inside has
	Answers         = Standing      // of Commanded: 1 reports its duty, 0 is silent
	CommandedParams = Answers + 1   // how many Commanded has
)

// Constants of a regulator inside the machine; memory, docs/models/vehicles-built-in.md.
const (
	wakesFrom   = 0.3    // lamp terminal to case under which it sleeps [V], whatever the system
	wakesFully  = 0.7    // from which it is awake [V]
	lampDrop    = 0.9    // saturation of the lamp driver [V]
	lampSoft    = 0.05   // over which its knee is rounded [V]
	lampPull    = 1e4    // lamp terminal to case [Ohm]
	phaseSilent = 4.0    // phase volts under which the machine counts as not charging, 12 V set
	phaseLoud   = 8.0    // from which it counts as charging: the driver lets go
	reportPull  = 1000.0 // resistance over which the control unit feeds the feedback line [Ohm]
	reportLeast = 0.02   // share of the time that a line at full duty is still free
)

// positions in the x and f of Inside and Commanded; the first three are Device's.
const (
	pin = iota + ground + 1 // lamp terminal, or feedback terminal
	insideCurrent
	insideSize
)

// Inside is the output stage of Device built into the machine: its supply is the
// output itself, it lets the field to the machine's own case, and it works only
// while its lamp terminal is at some volts. While the machine stands it allows a
// share of the duty only, enough to excite. A driver holds the lamp terminal low,
// so that the lamp lights, until a phase is loud: at the machine's speed and with
// the field current that the stage itself carries. Full field past the stage, or
// volts far above the set-point, carry none: then the lamp lights as a warning. It
// is a circuit.Device with the terminals supply, field, case and lamp, and one
// unknown, the current [A] into the field terminal.
type Inside struct {
	Volts float64 // nominal of the system [V]: 6, 12, 24; 0 means 12
}

// Healthy returns the parameters in order at a duty, for 12 V, turning at a speed
// at which an ampere of field makes 13 V in a phase.
func (Inside) Healthy(duty float64) []float64 {
	return append(Device{}.Healthy(duty), 1, 0.25, 13, 2)
}

// Size returns four terminals (supply, field, case, lamp), one unknown (the
// current into the field terminal [A]) and the parameters.
func (Inside) Size() (terminals, unknowns, params int) { return 4, 1, InsideParams }

// gated is an output stage whose duty something else gates.
type gated struct {
	stage              // its share d is that of Device, before the gate
	y       [4]float64 // x as Device has it
	own     float64    // current for its own use, while awake [A]
	gate    float64    // share of the duty that is let through
	d       float64    // share of the time that it conducts
	dSupply float64    // slope of d by supply; by case it is the opposite but for the pin
	dPin    float64    // slope of d by the pin
	wake    float64    // 0 asleep, 1 awake
	dWake   float64    // slope of wake by the pin
}

// gates evaluates the stage with its gate: wake and its slope by the pin, and
// what the parameters allow.
func gates(volts float64, x, p []float64, wake, dWake, allow float64) gated {
	g := gated{y: [4]float64{x[supply], x[field], x[ground], x[insideCurrent]}, wake: wake, dWake: dWake}
	g.stage = Device{volts}.at(g.y[:], p)
	g.gate = wake * allow
	g.d = g.stage.d * g.gate
	g.dSupply = g.stage.dSupply * g.gate
	g.dPin = g.stage.d * allow * dWake
	g.own = ownDraw * (x[supply] - x[ground])
	return g
}

// stamp writes what supply, field, case and the field's own equation have; taken
// is the current into the pin with its slopes by pin and by field current.
func (g *gated) stamp(x, f, jac []float64, taken, byPin, byCurrent float64) {
	i, low, high := x[insideCurrent], g.low(g.y[:]), g.high(g.y[:])
	f[supply] = g.wake*g.own - (1-g.d)*i
	f[field] = i
	f[ground] = -g.wake*g.own - g.d*i - taken
	f[pin] = taken
	f[insideCurrent] = x[field] - g.d*low - (1-g.d)*high

	put := func(row int, bySupply, byField, byGround, byPin, byCurrent float64) {
		copy(jac[row*insideSize:], []float64{bySupply, byField, byGround, byPin, byCurrent})
	}
	draws, wakes := g.wake*ownDraw, g.own*g.dWake
	bySupply, ofPin := draws+g.dSupply*i, wakes+g.dPin*i
	put(supply, bySupply, 0, -bySupply-ofPin, ofPin, -(1 - g.d))
	put(field, 0, 0, 0, 0, 1)
	put(ground, -bySupply, 0, bySupply+ofPin+byPin, -ofPin-byPin, -g.d-byCurrent)
	put(pin, 0, 0, -byPin, byPin, byCurrent)
	turn, lift := g.dSupply*(high-low), g.dPin*(high-low)
	put(insideCurrent,
		turn-(1-g.d), 1, -turn-lift-g.d, lift,
		-g.d*(g.drop*g.ds+g.on)-(1-g.d)*(g.fw*g.ds+g.fwo-blocking*g.dn))
}

// grad writes the derivatives by Device's parameters, params long in a row, and
// returns how supply, case and own equation change with the gated duty.
func (g *gated) grad(x, dfdp []float64, params int) (byDuty func(k int, slope float64)) {
	i, span := x[insideCurrent], g.high(g.y[:])-g.low(g.y[:])
	byDuty = func(k int, slope float64) {
		dfdp[supply*params+k] += slope * i
		dfdp[ground*params+k] -= slope * i
		dfdp[insideCurrent*params+k] += slope * span
	}
	byDuty(Duty, g.dDuty*g.gate)
	own := dfdp[insideCurrent*params:]
	own[Drop] = -g.d * g.s * g.dDrop
	own[OnOhms] = -g.d * i * g.dOn
	own[Freewheel] = -(1 - g.d) * g.s * g.dFw
	own[FreewheelOhms] = -(1 - g.d) * i * g.dFwo
	return byDuty
}

// wakeOf is 0 while the lamp terminal is at nothing and 1 when it is at some volts.
func wakeOf(x []float64) (wake, slope float64) {
	wake, slope = smooth.Rise((x[pin] - x[ground] - wakesFrom) / (wakesFully - wakesFrom))
	return wake, slope / (wakesFully - wakesFrom)
}

// driver is what the lamp terminal takes at one point.
type driver struct {
	on, dOn       float64 // share with which the driver conducts, and slope by phase volts
	phase, dPhase float64 // [V/A], and slope by the parameter
	amps, size    float64 // the field current, by magnitude; its slope
	free, dFree   float64 // through the driver if it conducts [A], and slope by the pin's volts
	ohms, dOhms   float64
}

func (d Inside) driver(x, p []float64) (o driver) {
	k := scale(d.Volts)
	i := x[insideCurrent]
	root := math.Hypot(i, knee)
	o.amps, o.size = i*i/root, i/root*(1+knee/root*(knee/root))
	o.phase, o.dPhase = smooth.Floor(p[Phase], 0.01, 0.01)
	o.ohms, o.dOhms = smooth.Floor(p[LampOhms], 0.5, 0.4)
	rise, slope := smooth.Rise((o.phase*o.amps - phaseSilent*k) / ((phaseLoud - phaseSilent) * k))
	o.on, o.dOn = 1-rise, -slope/((phaseLoud-phaseSilent)*k)
	o.free, o.dFree = smooth.Ramp(x[pin]-x[ground]-lampDrop, lampSoft)
	o.free, o.dFree = o.free/o.ohms, o.dFree/o.ohms
	return o
}

// allowed is the share of the duty that standing or turning lets through.
func allowed(p []float64) (share, byTurning, byStanding float64) {
	turning, dTurning := smooth.Clamp(p[Turning], 0, 1, 0.01)
	standing, dStanding := smooth.Clamp(p[Standing], 0, 1, 0.01)
	return standing + (1-standing)*turning, (1 - standing) * dTurning, (1 - turning) * dStanding
}

// Stamp writes the terminal currents and the residual of the field terminal's
// mean voltage.
func (d Inside) Stamp(x, p, f, jac []float64) {
	wake, slope := wakeOf(x)
	share, _, _ := allowed(p)
	g, o := gates(d.Volts, x, p, wake, slope, share), d.driver(x, p)
	taken := o.on*o.free + (x[pin]-x[ground])/lampPull
	g.stamp(x, f, jac, taken, o.on*o.dFree+1/lampPull, o.dOn*o.phase*o.size*o.free)
}

// Grad writes the derivatives of Stamp's f by the parameters.
func (d Inside) Grad(x, p, dfdp []float64) {
	clear(dfdp)
	wake, slope := wakeOf(x)
	share, byTurning, byStanding := allowed(p)
	g, o := gates(d.Volts, x, p, wake, slope, share), d.driver(x, p)
	byDuty := g.grad(x, dfdp, InsideParams)
	byDuty(Turning, g.stage.d*wake*byTurning)
	byDuty(Standing, g.stage.d*wake*byStanding)
	takes := func(k int, slope float64) {
		dfdp[pin*InsideParams+k] += slope
		dfdp[ground*InsideParams+k] -= slope
	}
	takes(Phase, o.dOn*o.amps*o.free*o.dPhase)
	takes(LampOhms, -o.on*o.free/o.ohms*o.dOhms)
}

// Commanded is the output stage of Device built into the machine, woken by its
// own turning, with a terminal that tells a control unit how much of the time it
// conducts: for that share it pulls the feedback line to its case, and the line,
// which the control unit feeds over a resistance, stands at the mean of both. It
// is a circuit.Device with the terminals supply, field, case and feedback, and
// one unknown, the current [A] into the field terminal. What it is asked to hold
// is the law's set-point and not this device's matter.
type Commanded struct {
	Volts float64 // nominal of the system [V]: 6, 12, 24; 0 means 12
}

// Healthy returns the parameters in order at a duty, for 12 V, turning.
func (Commanded) Healthy(duty float64) []float64 { return append(Device{}.Healthy(duty), 1, 1) }

// Size returns four terminals (supply, field, case, feedback), one unknown (the
// current into the field terminal [A]) and the parameters.
func (Commanded) Size() (terminals, unknowns, params int) { return 4, 1, CommandedParams }

// pulls is the mean conductance [S] with which the feedback terminal is on the
// case at a duty d, and its slope: over the line's own resistance the mean volts
// are then 1 - d of what feeds it, but for reportLeast.
func pulls(d float64) (g, slope float64) {
	rest := 1 - d + reportLeast
	return d / rest / reportPull, (1 + reportLeast) / (rest * rest) / reportPull
}

// turned is how far the machine's turning has woken it, and how far it answers.
func turned(p []float64) (turning, dTurning, answers, dAnswers float64) {
	turning, dTurning = smooth.Clamp(p[Turning], 0, 1, 0.01)
	answers, dAnswers = smooth.Clamp(p[Answers], 0, 1, 0.01)
	return turning, dTurning, answers, dAnswers
}

// Stamp writes the terminal currents and the residual of the field terminal's
// mean voltage.
func (c Commanded) Stamp(x, p, f, jac []float64) {
	turning, _, answers, _ := turned(p)
	g := gates(c.Volts, x, p, turning, 0, 1)
	volts := x[pin] - x[ground]
	pull, slope := pulls(g.d)
	g.stamp(x, f, jac, answers*pull*volts, answers*pull, 0)
	// The duty itself hangs a little on the supply, and the report with it.
	more := answers * slope * g.dSupply * volts
	jac[pin*insideSize+supply] += more
	jac[pin*insideSize+ground] -= more
	jac[ground*insideSize+supply] -= more
	jac[ground*insideSize+ground] += more
}

// Grad writes the derivatives of Stamp's f by the parameters.
func (c Commanded) Grad(x, p, dfdp []float64) {
	clear(dfdp)
	turning, dTurning, answers, dAnswers := turned(p)
	g := gates(c.Volts, x, p, turning, 0, 1)
	byDuty := g.grad(x, dfdp, CommandedParams)
	volts := x[pin] - x[ground]
	pull, slope := pulls(g.d)
	tells := func(k int, by float64) {
		dfdp[pin*CommandedParams+k] += by
		dfdp[ground*CommandedParams+k] -= by
	}
	tells(Duty, answers*slope*g.dDuty*g.gate*volts)
	byDuty(Turning, g.stage.d*dTurning)
	dfdp[supply*CommandedParams+Turning] += g.own * dTurning
	dfdp[ground*CommandedParams+Turning] -= g.own * dTurning
	tells(Turning, answers*slope*g.stage.d*dTurning*volts)
	tells(Answers, dAnswers*pull*volts)
}
