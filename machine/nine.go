package machine

import (
	"errors"
	"fmt"
	"math"
)

// Terminals of a NineDiode after Stud, Case, RingA and RingB, and its own
// unknowns, as indices into x. Its parameters are an Alternator's; PatternIndex
// holds a NinePattern.
const (
	DPlus         = iota + 4 // D+ [V]
	NineFieldAmps            // field current [A]
	DPlusAmps                // current out of D+ [A]
	nineSize
)

// NineDiode is an Alternator with three field diodes and their terminal D+. What
// D+ feeds stands outside: the field between its rings, the regulator, the lamp.
//
// On average D+ is a voltage behind a resistance and a diode; the tables give
// voltage and resistance, and how much of the current is missing at the stud.
type NineDiode struct {
	a     *Alternator
	dplus *DPlusTables
	small Diode
	j     junction
}

// The device's own small print.
const (
	// dplusLeak is what D+ leaks to the case [S].
	dplusLeak = 1e-6
	// littleAmps keeps currents above zero in the drops of diodes [A].
	littleAmps = 0.01
	// roundEMF rounds the corner that |EMF| has where the machine stands [V].
	roundEMF = 0.01
	// topShare is the mean of the largest phase current of a sound bridge, as a
	// share of its output current [closed form: sines of 60 degrees' width].
	topShare = 0.866
	// Where a shorted positive diode ties D+ to the stud, the other phases lift it
	// above by a main diode's drop at tieShare of the short-circuit current; by half
	// of that at an EMF of tieDrops drops (both fitted to the time domain).
	tieShare = 0.75
	tieDrops = 2.3
	// Where a field diode is shorted D+ hangs on a phase, and the main diodes see
	// to it that the machine can only feed it: directSiemens [S], with the corner
	// rounded within directVolts [V].
	directSiemens = 20
	directVolts   = 0.02
	// farFromTable is the u beyond which nothing depends on u.
	farFromTable = 50
)

// NewNineDiode returns a machine as NewAlternator does, with field diodes.
func NewNineDiode(d, field Diode, fluxKnee, saturation float64) (*NineDiode, error) {
	a, err := NewAlternator(d, fluxKnee, saturation)
	t, err2 := ShippedDPlus()
	problems := errors.Join(err, err2)
	if !(field.Saturation > 0 && field.Emission > 0 && field.Ohms > 0) || math.IsInf(field.Saturation+field.Emission+field.Ohms, 0) {
		problems = errors.Join(problems, fmt.Errorf("machine: field diode: saturation, emission and resistance must be above 0, not %g A, %g, %g Ohm", field.Saturation, field.Emission, field.Ohms))
	}
	if problems != nil {
		return nil, problems
	}
	m := &NineDiode{a: a, dplus: t, small: field}
	m.j = newJunction(field.Saturation, field.Emission*thermalVolts, field.Ohms, 1e-7)
	return m, nil
}

// Size implements circuit.Device.
func (m *NineDiode) Size() (terminals, unknowns, params int) { return 5, 2, NumParams }

// pattern reads the pattern parameter; what is no pattern counts as healthy.
func (m *NineDiode) pattern(p []float64) NinePattern {
	k := NinePattern(p[PatternIndex] + 0.5)
	if k < 0 || k >= NumNinePatterns {
		return NineHealthy
	}
	return k
}

// state is a NineDiode at a point.
type state struct {
	output           // what excite fills in
	omega    float64 // electrical, after slip [rad/s]
	wEff     float64
	stud     dual    // current out of the stud without leakage [A]
	open     dual    // voltage of D+ to case before the field diode [V]
	told     float64 // the same as the tables have it [V]
	ohms     dual    // behind it [Ohm]
	residual dual    // of the D+ current's own equation [A]
	byVolts  float64
}

// solve works a point out.
func (m *NineDiode) solve(s *state, x, p []float64) {
	pattern := m.pattern(p)
	s.omega = m.a.excite(&s.output, x[NineFieldAmps], p)
	s.wEff = math.Sqrt(s.omega*s.omega + minOmega*minOmega)
	volts, emf := variable(x[Stud]-x[Case], byVolts), variable(s.emf, byEMF)
	reactance, ohms := variable(s.wEff*p[Inductance], byReactance), variable(p[StatorOhms], byOhms)
	amps := variable(x[DPlusAmps], byDPlus)

	c := m.a.current(Mean, pattern.Output(), volts.v, emf.v, reactance.v, ohms.v)
	table := dual{v: c.amps, d: [dualSize]float64{c.byVolts, c.byEMF, c.byReactance, c.byOhms, 0}}
	level, slope, share := m.terminal(pattern, volts, emf, reactance, ohms, amps, table)
	s.stud = table.minus(share.times(amps))
	s.told = level.v
	level = level.chain(level.v*(1+p[DPlusOff]), 1+p[DPlusOff])
	s.open, s.ohms = level, slope

	// The field diode: what flows through it is what flows at D+.
	drive := level.minus(slope.times(amps))
	delta := drive.v - (x[DPlus] - x[Case] - p[DPlusBeside])
	i, g := m.j.at(delta)
	if pattern.direct() {
		i, g = oneWay(delta)
	}
	s.byVolts = -g
	s.residual = drive.chain(i, g).minus(amps)
}

// oneWay is directSiemens that conducts forward only, with its slope.
func oneWay(v float64) (i, g float64) {
	if v > 30*directVolts {
		return directSiemens * v, directSiemens
	}
	e := math.Exp(v / directVolts)
	return directSiemens * directVolts * math.Log1p(e), directSiemens * e / (1 + e)
}

// terminal returns D+ as a voltage [V] behind a resistance [Ohm], and the share
// of its current that the output lacks.
func (m *NineDiode) terminal(p NinePattern, volts, emf, reactance, ohms, amps, table dual) (level, slope, share dual) {
	output := table.positive(littleAmps)
	up := m.dropOf(output)
	low := m.dropOf(output.plus(amps.positive(littleAmps)))
	y := ohms.over(reactance)
	t := m.dplus[p]
	v := volts.plus(up).plus(low)
	emf = emf.rounded(roundEMF)
	a := newAddress(t, v, emf, y)
	slope = a.figure(DPlusSlope).times(reactance).times(a.beyond)
	share = a.figure(DPlusShare)
	if p.tied() {
		w := tieDrops * m.a.drop
		e2 := emf.v*emf.v + w*w
		lift := emf.chain(emf.v*emf.v/e2, 2*emf.v*w*w/(e2*e2))
		up = m.dropOf(emf.over(impedance(reactance, ohms)).times(dual{v: tieShare}))
		return volts.plus(a.figure(DPlusLevel).times(lift).times(up)), slope, share
	}
	level = a.level(v, emf)
	if !p.earthed() {
		level = level.minus(low)
	}
	return level, slope, share
}

// impedance is that of a winding [Ohm].
func impedance(reactance, ohms dual) dual {
	z := math.Hypot(reactance.v, ohms.v)
	return reactance.chain(z, reactance.v/z).plus(ohms.chain(0, ohms.v/z))
}

// dropOf is the drop of a main diode at a bridge's mean current, with what its
// resistance takes of the largest phase current.
func (m *NineDiode) dropOf(amps dual) dual {
	nvt := m.a.diode.Emission * thermalVolts
	is := m.a.diode.Saturation
	return amps.chain(nvt*math.Log1p(amps.v/is)+topShare*m.a.diode.Ohms*amps.v, nvt/(amps.v+is)+topShare*m.a.diode.Ohms)
}

// address is a point of a D+ table with the derivatives of its coordinates.
type address struct {
	t      *DPlusTable
	u, s   dual // bent to stay inside
	where  int  // of u: below, inside or above the table
	beyond dual // grows as the winding's impedance where y is above the table
}

const (
	below = iota - 1
	inside
	above
)

// newAddress bends u = v/emf and ln y into the table.
func newAddress(t *DPlusTable, v, emf, y dual) address {
	g := &t.Grid
	a := address{t: t, beyond: dual{v: 1}}
	s := y.chain(math.Log(y.v), 1/y.v)
	se, ds := bend(s.v, t.logY[0]+yMargin, t.logY[1]-yMargin, yMargin)
	a.s = s.chain(se, ds)
	if se != s.v {
		// sqrt((1+y^2)/(1+ye^2)), by ln y and ln ye.
		y2, e2 := y.v*y.v, math.Exp(2*se)
		f := math.Sqrt((1 + y2) / (1 + e2))
		a.beyond = s.chain(f, f*(y2/(1+y2)-e2/(1+e2)*ds))
	}
	switch {
	case v.v >= g.U[1]*emf.v:
		a.where, a.u = above, dual{v: g.U[1]}
	case v.v < g.U[0]*emf.v:
		a.where, a.u = below, dual{v: g.U[0]}
		if math.Abs(v.v) < farFromTable*emf.v {
			u := v.over(emf)
			a.u = u.chain(bend(u.v, g.U[0], g.U[1], uMargin))
		} else {
			a.u.v -= uMargin
		}
	default:
		a.u = v.over(emf)
	}
	return a
}

// uMargin is how far below the table slope and share still move, in u.
const uMargin = 0.05

// figure is an output at the address. Below the table it goes on straight with
// the bent u.
func (a *address) figure(o DPlusOutput) dual {
	u, over := a.u.v, 0.0
	if a.where == below {
		over = u - a.t.Grid.U[0]
		u = a.t.Grid.U[0]
	}
	f, fu, fs, fus := a.t.at(o, u, a.s.v)
	return a.u.chain(f+over*fu, fu).plus(a.s.chain(0, fs+over*fus))
}

// level is the level in volts: E times the figure inside the table and above it,
// straight on in v below.
func (a *address) level(v, emf dual) dual {
	g := &a.t.Grid
	if a.where != below {
		return emf.times(a.figure(DPlusLevel))
	}
	f, fu, fs, fus := a.t.at(DPlusLevel, g.U[0], a.s.v)
	over := v.v - g.U[0]*emf.v
	return emf.chain(emf.v*f+over*fu, f-g.U[0]*fu).plus(v.chain(0, fu)).plus(a.s.chain(0, emf.v*fs+over*fus))
}
