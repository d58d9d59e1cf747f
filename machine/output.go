package machine

import "math"

// output is one output of the output current at an operating point, with its
// derivatives; emf likewise.
type output struct {
	amps     float64
	dVolts   float64 // by the voltage from stud to case [S]
	dField   float64 // by the field current [1]
	dParam   [NumParams]float64
	emf      float64 // magnitude [V]
	emfField float64
	emfParam [NumParams]float64
}

// output looks a table up in physical quantities: amps = (E/wL) j(u, y, ...),
// with E = K w phi; it fills a zero o.
func (m *Alternator) output(o *output, which Output, x, p []float64) {
	w := m.excite(o, x[FieldAmps], p)
	wEff := math.Sqrt(w*w + minOmega*minOmega)
	c, byFault := m.amps(which, m.pattern(p), x[Stud]-x[Case], o.emf, wEff*p[Inductance], p)

	// amps = e j / reactance; c holds amps and its derivatives by v, e,
	// reactance and ohms.
	o.amps, o.dVolts = c.amps, c.byVolts
	o.dField = c.byEMF * o.emfField
	for k, d := range o.emfParam {
		o.dParam[k] = c.byEMF * d
	}
	dw := w / wEff * p[Inductance] * c.byReactance
	o.dParam[Omega] += dw * (1 - p[Slip])
	o.dParam[Slip] -= dw * p[Omega]
	o.dParam[Inductance] = wEff * c.byReactance
	o.dParam[StatorOhms] = c.byOhms
	o.dParam[FaultOhms] = byFault
}

// amps is current for any pattern, with its derivative by FaultOhms.
func (m *Alternator) amps(which Output, pattern Pattern, volts, emf, reactance float64, p []float64) (c current, byFault float64) {
	switch {
	case emf == 0 && volts+2*m.drop > 0: // stands still: every output and slope is E times something
		return current{}, 0
	case pattern < NumPatterns:
		return m.current(which, pattern, volts, emf, reactance, p[StatorOhms]), 0
	case pattern == DeltaWindingOpen:
		at := point{volts: volts + 2*m.drop, emf: emf, reactance: reactance, ohms: p[StatorOhms] + m.diode.Ohms, drop: m.drop}
		return m.delta.look(which, at), 0
	}
	return m.between(which, pattern, volts, emf, reactance, p[StatorOhms], p[FaultOhms])
}

// excite fills in the EMF and returns the electrical speed [rad/s].
func (m *Alternator) excite(o *output, field float64, p []float64) (w float64) {
	phi, phiI, phiTurns := flux(field, p[Turns], p[Residual], m.knee, m.sat)
	w = p[Omega] * (1 - p[Slip])
	e := p[Flux] * w * phi
	sign := 1.0
	if e < 0 {
		sign = -1 // a machine turned backwards delivers all the same
	}
	o.emf = sign * e
	o.emfField = sign * p[Flux] * w * phiI
	o.emfParam[Flux] = sign * w * phi
	o.emfParam[Turns] = sign * p[Flux] * w * phiTurns
	o.emfParam[Residual] = sign * p[Flux] * w
	o.emfParam[Omega] = sign * p[Flux] * phi * (1 - p[Slip])
	o.emfParam[Slip] = -sign * p[Flux] * phi * p[Omega]
	return w
}

// current is an output of a pattern's table against the voltage from stud to
// case, the EMF, reactance and resistance of a phase.
func (m *Alternator) current(which Output, pattern Pattern, volts, emf, reactance, ohms float64) current {
	if !pattern.shorted() {
		ohms += m.diode.Ohms
	}
	return m.tables[pattern].look(which, point{volts: volts + 2*m.drop, emf: emf, reactance: reactance, ohms: ohms, drop: m.drop})
}

// pattern reads the pattern parameter; what is no pattern counts as healthy.
func (m *Alternator) pattern(p []float64) Pattern {
	k := Pattern(p[PatternIndex] + 0.5)
	if k < 0 || k >= endPatterns {
		return Healthy
	}
	return k
}

// point is where a table is looked up, in physical quantities.
type point struct {
	volts     float64 // V_o' = V + 2 V_d(10 A) [V]
	emf       float64 // E, zero or more [V]
	reactance float64 // w L, above zero [Ohm]
	ohms      float64 // R [Ohm]
	drop      float64 // V_d(10 A) [V]
}

// current is an output in amperes with its derivatives.
type current struct{ amps, byVolts, byEMF, byReactance, byOhms float64 }

// look evaluates amps = (E/X) j(u = V/E, ln y, ln knee, ln drop) everywhere:
//
//	u above the table   j = j1 (u1/u)^tailPower, so that output dies away
//	                    smoothly below cut-in and is 0 at standstill
//	u below the table   straight on in u
//	y outside the table bent to a stop, with the 1/sqrt(1+y^2) that a winding of
//	                    reactance and resistance has
func (t *Table) look(o Output, p point) current {
	g := &t.Grid
	// Coordinates other than u, with their derivatives by the logarithm of
	// reactance and of ohms, and by volts.
	p.ohms = max(p.ohms, minOhms)
	s := math.Log(p.ohms / p.reactance)
	se, ds := bend(s, t.logY[0]+yMargin, t.logY[1]-yMargin, yMargin)
	root := math.Sqrt(p.volts*p.volts + 4*dropFloor*dropFloor)
	vp := (p.volts + root) / 2 // volts, kept above zero
	dLnV := 1 / root           // d(ln vp)/d(volts)
	lnKnee := math.Log(g.RefAmps * p.reactance / vp)
	lnDrop := math.Log(p.drop / vp)

	// j with its slope by u, and both by the other coordinates; then amps as
	// q = E j and its derivatives by volts and E at fixed other coordinates.
	var q, qV, qE float64
	var by jet
	switch {
	case p.volts < g.U[0]*p.emf:
		v, du := t.at(o, g.U[0], se, lnKnee, lnDrop)
		over := p.volts - g.U[0]*p.emf
		q, qV, qE = p.emf*v.f+over*du.f, du.f, v.f-g.U[0]*du.f
		by = jet{s: p.emf*v.s + over*du.s, k: p.emf*v.k + over*du.k, d: p.emf*v.d + over*du.d}
	case p.volts > g.U[1]*p.emf:
		v, _ := t.at(o, g.U[1], se, lnKnee, lnDrop)
		r := math.Pow(g.U[1]*p.emf/p.volts, tailPower)
		q, qE = p.emf*r*v.f, (1+tailPower)*r*v.f
		qV = -tailPower * q / p.volts
		by = jet{s: p.emf * r * v.s, k: p.emf * r * v.k, d: p.emf * r * v.d}
	default:
		u := p.volts / p.emf
		v, du := t.at(o, u, se, lnKnee, lnDrop)
		q, qV, qE = p.emf*v.f, du.f, v.f-u*du.f
		by = jet{s: p.emf * v.s, k: p.emf * v.k, d: p.emf * v.d}
	}

	// Beyond the table in y: times sqrt((1+ye^2)/(1+y^2)), 1 inside.
	z, dz := 1.0, 0.0 // with its derivative by s
	if s != se {
		y2, ye2 := math.Exp(2*s), math.Exp(2*se)
		z = math.Sqrt((1 + ye2) / (1 + y2))
		dz = z * (ye2/(1+ye2)*ds - y2/(1+y2))
	}

	x := 1 / p.reactance
	qs := by.s*ds*z + q*dz // by s, all in
	return current{
		amps:        q * z * x,
		byVolts:     (qV - (by.k+by.d)*dLnV) * z * x,
		byEMF:       qE * z * x,
		byReactance: (by.k*z - qs - q*z) * x * x,
		byOhms:      qs * x / p.ohms,
	}
}

// minOhms keeps ln y finite [Ohm].
const minOhms = 1e-9

// yMargin is where bending begins, in ln y inside the table's ends.
const yMargin = 0.05

// rippleOhms is the impedance [Ohm] that a machine shows to its own ripple, by
// pattern: with every diode conducting in turn it is all but a current source;
// while a gap or a short holds a phase the smoothing goes through a conducting
// winding. Rounded from whole-vehicle transients with and without an open output
// line (program: ngspice 39; phase faults between 8 and 13, diode faults 2 to 4).
var rippleOhms = [NumPatterns]float64{
	Healthy: 30, DiodeOpen: 3, DiodeShort: 3, PhaseOpen: 10, PhaseShort: 10, PhaseEarth: 3, TwoOpenSameSide: 3, TwoOpenOpposite: 3,
}

// RippleOhms is the machine's impedance to its own ripple [Ohm] at the
// parameters p. A pattern that grows with a resistance has, rougher still, a mean
// by logarithms of its ends'.
func (m *Alternator) RippleOhms(p []float64) float64 {
	pattern := m.pattern(p)
	switch {
	case pattern < NumPatterns:
		return rippleOhms[pattern]
	case pattern == DeltaWindingOpen: // works on two phases and a bit
		return rippleOhms[PhaseOpen]
	}
	reactance := math.Hypot(p[Omega]*(1-p[Slip]), minOmega) * p[Inductance]
	s, _, _ := pattern.grown(p[FaultOhms], reactance)
	return math.Pow(rippleOhms[Healthy], 1-s) * math.Pow(rippleOhms[pattern.end()], s)
}
