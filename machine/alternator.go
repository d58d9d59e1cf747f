package machine

import (
	"errors"
	"fmt"
	"math"
)

// Terminals of an Alternator, and its own unknown, as indices into x.
const (
	Stud      = iota // output terminal [V]
	Case             // [V]
	RingA            // slip ring where field current enters [V]
	RingB            // slip ring where it leaves [V]
	FieldAmps        // field current [A]
	size
)

// Parameters of an Alternator, as indices into p.
const (
	Flux         = iota // K: peak line-to-neutral EMF per electrical speed at flux 1 [V s/rad]
	Inductance          // of a phase [H]
	StatorOhms          // of a phase [Ohm]
	RotorOhms           // rotor winding between the rings [Ohm]
	Omega               // electrical speed before belt slip [rad/s]
	Slip                // belt slip, share of the speed [1]
	Turns               // share of the rotor's turns that still count [1]
	Residual            // residual flux, share of the flux at the knee [1]
	BrushVolts          // drop of both brushes together [V]
	PatternIndex        // a Pattern; constant, has no derivative
	FaultOhms           // of a pattern that grows with a resistance [Ohm]; the others do not look at it
	Beside              // current out of the stud on top of the tables' [A]: 0, but for who knows it better (Timed)
	DPlusBeside         // voltage of D+ on top of the tables' [V]; a machine without field diodes does not look at it
	DPlusOff            // how far the tables' voltage of D+ is off, share of it [1]: their model error; the same
	NumParams
)

// Alternator is the machine as a circuit.Device: a current out of the stud that
// the tables give, and a rotor between the rings. It needs four terminals and
// one unknown of its own, the field current.
type Alternator struct {
	tables    *Tables
	parts     *PartTables
	delta     *Table // of DeltaWindingOpen
	diode     Diode
	drop      float64 // V_d at the tables' reference current [V]
	knee, sat float64
}

// The device's own small print.
const (
	// brushWidth is the field current at which the brush drop turns round [A].
	brushWidth = 0.05
	// standingLeak is the rectifier's conductance with the engine off [S]: six
	// good diodes leak microamperes. 100 kOhm at 12.6 V: 0.13 mA.
	standingLeak = 1e-5
	// runningLeak comes on top while EMF is there [S]: a stud with nothing on it
	// then has a definite voltage. 1 kOhm at 14 V: 14 mA of tens of amperes.
	runningLeak = 1e-3
	// minOmega keeps reactance above zero when the engine stands [rad/s].
	minOmega = 0.01
	// dropFloor keeps V + 2 V_d above zero in the knee and drop coordinates [V].
	dropFloor = 0.1
)

// NewAlternator returns a machine with the diode, the field current at which
// flux is 1 [A] and Froehlich's saturation a [1]. The error joins what is wrong
// with the figures, or says that the shipped tables cannot be read.
func NewAlternator(d Diode, fluxKnee, saturation float64) (*Alternator, error) {
	var problems []error
	need := func(ok bool, what string, got float64) {
		if !ok || math.IsInf(got, 0) {
			problems = append(problems, fmt.Errorf("machine: alternator: %s, not %g", what, got))
		}
	}
	need(d.Saturation > 0, "diode saturation current must be above 0 A", d.Saturation)
	need(d.Emission > 0, "diode emission must be above 0", d.Emission)
	need(d.Ohms >= 0, "diode resistance must be 0 Ohm or more", d.Ohms)
	need(fluxKnee > 0, "flux knee must be above 0 A", fluxKnee)
	need(saturation >= 0, "saturation must be 0 or more", saturation)
	t, err := Shipped()
	parts, err2 := ShippedParts()
	delta, err3 := shippedDelta()
	if err := errors.Join(err, err2, err3); err != nil {
		problems = append(problems, err)
	}
	if len(problems) > 0 {
		return nil, errors.Join(problems...)
	}
	return &Alternator{tables: t, parts: parts, delta: delta, diode: d, drop: d.Drop(refAmps), knee: fluxKnee, sat: saturation}, nil
}

// Size implements circuit.Device.
func (m *Alternator) Size() (terminals, unknowns, params int) { return 4, 1, NumParams }

// Stamp implements circuit.Device.
func (m *Alternator) Stamp(x, p, f, jac []float64) {
	var o output
	m.output(&o, Mean, x, p)
	v := x[Stud] - x[Case]
	g, dg := leak(o.emf)
	i := g*v - o.amps // into the stud
	dv := g - o.dVolts
	di := dg*o.emfField*v - o.dField
	i -= p[Beside]
	f[Stud], f[Case] = i, -i
	jac[Stud*size+Stud], jac[Stud*size+Case], jac[Stud*size+FieldAmps] = dv, -dv, di
	jac[Case*size+Stud], jac[Case*size+Case], jac[Case*size+FieldAmps] = -dv, dv, -di

	field := x[FieldAmps]
	f[RingA], f[RingB] = field, -field
	jac[RingA*size+FieldAmps], jac[RingB*size+FieldAmps] = 1, -1
	s, ds := side(field)
	f[FieldAmps] = x[RingA] - x[RingB] - p[RotorOhms]*field - p[BrushVolts]*s
	jac[FieldAmps*size+RingA], jac[FieldAmps*size+RingB] = 1, -1
	jac[FieldAmps*size+FieldAmps] = -p[RotorOhms] - p[BrushVolts]*ds
}

// Grad implements circuit.Device.
func (m *Alternator) Grad(x, p, dfdp []float64) {
	var o output
	m.output(&o, Mean, x, p)
	_, dg := leak(o.emf)
	v := x[Stud] - x[Case]
	for k, d := range o.dParam {
		d = dg*o.emfParam[k]*v - d
		dfdp[Stud*NumParams+k], dfdp[Case*NumParams+k] = d, -d
	}
	dfdp[Stud*NumParams+Beside], dfdp[Case*NumParams+Beside] = -1, 1
	s, _ := side(x[FieldAmps])
	dfdp[FieldAmps*NumParams+RotorOhms] = -x[FieldAmps]
	dfdp[FieldAmps*NumParams+BrushVolts] = -s
}

// Ripple returns an output of the output current [A] at an operating point, and
// writes its derivatives with respect to x and p into dx (5) and dp (NumParams),
// unless they are nil. Mean is the current out of the stud without leakage.
func (m *Alternator) Ripple(x, p []float64, which Output, dx, dp []float64) float64 {
	var o output
	m.output(&o, which, x, p)
	if dx != nil {
		clear(dx)
		dx[Stud], dx[Case], dx[FieldAmps] = o.dVolts, -o.dVolts, o.dField
	}
	if dp != nil {
		copy(dp, o.dParam[:])
	}
	return o.amps
}

// EMF returns the peak line-to-neutral EMF [V] and the electrical speed after
// belt slip [rad/s] at an operating point.
func (m *Alternator) EMF(x, p []float64) (volts, omega float64) {
	phi, _, _ := flux(x[FieldAmps], p[Turns], p[Residual], m.knee, m.sat)
	omega = p[Omega] * (1 - p[Slip])
	return p[Flux] * omega * phi, omega
}

// ShortSiemens is the conductance of a short in Point's bridge [S]: a milliohm.
const ShortSiemens = 1000

// Point returns the operating point as SteadyState takes it, with the voltage
// from stud to case held. Solve it only where EMF is above zero. A delta is not
// SteadyState's: for DeltaWindingOpen the point is the sound star's.
func (m *Alternator) Point(x, p []float64) OperatingPoint {
	e, w := m.EMF(x, p)
	return OperatingPoint{
		EMF: math.Abs(e), Omega: w, Ohms: p[StatorOhms], Henries: p[Inductance],
		Volts: x[Stud] - x[Case], Diode: m.diode, Bridge: m.pattern(p).ChangesAt(ShortSiemens, p[FaultOhms]),
	}
}

// TrustedRatio is the ratio E/V_o' up to which outputs of patterns that leave
// the bridge asymmetric are to be trusted. Above it this model lets an open
// diode deliver more than a sound bridge: an artefact of the constant
// inductance, which is not that of a real machine for the direct current in its
// phases.
const TrustedRatio = 2.5

// Ratio returns E/V_o', the EMF over the output voltage plus two diode drops.
func (m *Alternator) Ratio(x, p []float64) float64 {
	e, _ := m.EMF(x, p)
	return math.Abs(e) / (x[Stud] - x[Case] + 2*m.drop)
}

// side is the sign of the field current, rounded, with its derivative.
func side(i float64) (s, ds float64) {
	r := math.Sqrt(i*i + brushWidth*brushWidth)
	return i / r, brushWidth * brushWidth / (r * r * r)
}

// leak is the conductance across stud and case at an EMF, with its derivative.
func leak(e float64) (g, dg float64) {
	q := 1 / (1 + e*e)
	return standingLeak + runningLeak*e*e*q, runningLeak * 2 * e * q * q
}
