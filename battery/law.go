package battery

import (
	"math"

	"chargewright/internal/smooth"
)

// Constants of the law, six cells and 50 Ah where they scale. All memory unless
// said otherwise; docs/models/battery.md says what they were chosen to meet.
const (
	reference  = 298.15 // [K] at which R0 is stated
	smallestAh = 0.5    // floor of the capacity [Ah]

	emptyRise   = 0.6 // resistance of an empty battery over a full one, less 1
	coldKelvins = 60  // resistance grows e-fold in this many kelvin colder [K]
	slowShare   = 0.5 // slow part of the discharge resistance, over R0

	polarisation  = 0.9  // [V] for e-fold charge current, six cells
	acceptFull    = 0.15 // exchange current [A] at full charge, 50 Ah
	acceptSlope   = 14.0 // its growth with the charge that is missing [A]
	acceptBend    = 1.23 // ... which slackens
	acceptDecade  = 50.0 // tenfold in this many kelvin [K]
	branchWidth   = 0.2  // [A] over which the charge branch sets in
	gassingAmps   = 0.05 // [A] at gassingVolts, 25 degC, 50 Ah
	gassingVolts  = 14.1 // six cells
	gassingFold   = 0.55 // [V] for e-fold gassing, six cells
	gassingKelvin = 15.0 // [K] for e-fold gassing
	gassingTop    = 20.0 // [V] from which gassing goes on along its tangent
)

// density is the specific gravity at 26.7 degC for a state of charge: the
// polynomial through 1.120, 1.155, 1.190, 1.225, 1.265 at 0, 25, 50, 75, 100 %,
// C-infinity and rising. Source: state-of-charge table of a circulated battery
// FAQ for 1.265 electrolyte (read).
func density(soc float64) (sg, slope float64) {
	const last = 0.005 / 0.09375 // the fifth point stands 0.005 above the line of the other four
	a, b, c, d := soc, soc-0.25, soc-0.5, soc-0.75
	q := a * b * c * d
	dq := b*c*d + a*c*d + a*b*d + a*b*c
	return 1.120 + 0.14*soc + last*q, 0.14 + last*dq
}

// cellVolts is the rested voltage of one cell [V]. Source: electrode potentials
// as polynomials in log10 of the acid's molality, Bode 1977, as coded in a
// published battery-modelling parameter set (read); density to mass fraction by
// a parabola through the 20 degC acid table at 10 to 40 % (memory, fits it to
// 0.03 %).
func cellVolts(soc float64) (v, slope float64) {
	sg, dsg := density(soc)
	x := sg - 1.19
	w := 0.26485 + x*(1.25923-0.55677*x)
	dw := (1.25923 - 2*0.55677*x) * dsg
	const molar = 0.098079 // sulphuric acid [kg/mol]
	l := math.Log10(w / (molar * (1 - w)))
	dl := dw / (w * (1 - w) * math.Ln10)
	plus := 1.628 + l*(0.074+l*(0.033+l*(0.043+l*0.022)))
	minus := -0.294 - l*(0.074+l*(0.030+l*(0.031+l*0.012)))
	dplus := 0.074 + l*(2*0.033+l*(3*0.043+l*4*0.022))
	dminus := -(0.074 + l*(2*0.030+l*(3*0.031+l*4*0.012)))
	return plus - minus, (dplus - dminus) * dl
}

// quantity is a number with its derivatives by the parameters it depends on.
type quantity struct{ v, soc, r0, sulph, temp, capacity float64 }

// state is everything the device needs at one set of parameters.
type state struct {
	ocv    quantity // rested volts of all cells alike, without loss and surface [V]
	r      quantity // ohmic resistance [Ohm]
	vc     quantity // polarisation voltage [V]
	ic     quantity // exchange current [A]
	gas    quantity // gassing current at gassingVolts [A]
	offset float64  // surface charge less cell loss [V]
	loss   float64  // cell loss [V]
}

// at evaluates the law's coefficients. Parameters outside their range are
// clamped smoothly: charge -2..102 %, temperature -45..75 degC (10 K more),
// resistance above 0.05 mOhm, factors above 0.1 and 0.05.
func (m Model) at(p []float64) state {
	soc, dsoc := smooth.Clamp(p[SoC], 0, 1, 0.02)
	kelvin, dkelvin := smooth.Clamp(p[Temperature], 228.15, 348.15, 10)
	sulph, dsulph := smooth.Floor(p[Sulphation], 0.2, 0.1)
	r0, dr0 := smooth.Floor(p[R0], 1e-4, 5e-5)
	wear, dwear := smooth.Floor(p[Capacity], 0.1, 0.05)
	scale := m.scale()
	fifties := math.Max(m.AmpHours, smallestAh) / 50
	warm := kelvin - reference
	missing := 1 - soc

	var s state
	cell, dcell := cellVolts(soc)
	s.ocv = quantity{v: 6 * scale * cell, soc: 6 * scale * dcell * dsoc}

	fs := 1 + emptyRise*missing*missing
	ft := math.Exp(-warm / coldKelvins)
	s.r = quantity{
		v:   r0 * fs * ft * sulph,
		soc: -2 * emptyRise * missing * r0 * ft * sulph * dsoc,
		r0:  fs * ft * sulph * dr0, sulph: r0 * fs * ft * dsulph,
		temp: -r0 * fs * ft * sulph / coldKelvins * dkelvin,
	}

	s.vc = quantity{v: polarisation * scale * sulph, sulph: polarisation * scale * dsulph}

	bend := 1 + acceptBend*missing
	// Overfull, the line would cross nothing: it creeps to a third instead.
	accept, daccept := smooth.Floor(acceptFull+acceptSlope*missing/bend, acceptFull, acceptFull*2/3)
	tenfold := math.Pow(10, warm/acceptDecade)
	s.ic = quantity{
		v:        fifties * wear * tenfold * accept,
		soc:      -fifties * wear * tenfold * daccept * acceptSlope / (bend * bend) * dsoc,
		temp:     fifties * wear * tenfold * accept * math.Ln10 / acceptDecade * dkelvin,
		capacity: fifties * tenfold * accept * dwear,
	}

	hot := math.Exp(warm / gassingKelvin)
	s.gas = quantity{
		v:        gassingAmps * fifties * wear * hot,
		temp:     gassingAmps * fifties * wear * hot / gassingKelvin * dkelvin,
		capacity: gassingAmps * fifties * hot * dwear,
	}
	s.loss = p[CellLoss]
	s.offset = p[Surface] - p[CellLoss]
	return s
}
