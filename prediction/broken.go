package prediction

import (
	"math"

	"chargewright/question"
)

// A broken connection is no perfect insulator: dust of brushes, damp and verdigris leak.
// How much nobody knows within decades, so that a voltmeter of 10 MOhm behind it may
// read anything from nothing to all of the volts, and tells no break from another by it.
const (
	// brokenDecades is log10 of its ohms [Ohm] in the median, and its spread is one
	// decade: 0.1 MOhm to 1 GOhm in 95 of 100 (memory: a tenth of a megohm over a
	// brush holder full of dust, gigohms over a clean gap).
	brokenDecades = 7
	// StrayAmps is what the leads of a voltmeter and the loom pick up, and what the leak
	// is more or less from one reading to the next [A], one standard deviation: 0.1 V on
	// a point that hangs on nothing but a meter of 10 MOhm, a tenth of a millivolt
	// behind 10 kOhm (memory: what a meter shows with one lead in the air).
	StrayAmps = 10e-9
	// megohmSpread is by how much an ohmmeter reads a leak otherwise than the current of a
	// battery finds it, log of the factor, one standard deviation: a decade
	// (memory: dirt is no resistor; it passes another share of its current at a volt of
	// test voltage than at twelve, and what was taken apart leaks otherwise).
	megohmSpread = 2.3
	// megohmFrom is the resistance [Ohm] at which half of that counts: nothing that is
	// made to conduct in a charging circuit has so much (invented, rough).
	megohmFrom = 100e3
	// strayDrift: each reading has as much of its own as all share.
	strayDrift = 1
)

// StrayTerm is the coordinate of what a voltmeter's leads pick up.
func (m *Model) StrayTerm() int { return m.stray }

// broken is the resistance of a connection that a fault opens.
func (m *Model) broken(z []float64) number {
	v := exactly(math.Pow(10, brokenDecades+z[m.leak]))
	v.depend(m.leak, math.Ln10*v.v)
	return v
}

// strayVolts are the volts that stray current makes at a voltmeter, with the derivative
// with respect to its coordinate in row, unless that is nil: the current times the
// resistance that the meter sees. That is what one ampere into the red lead and out of
// the black one moves the reading by, which the adjoint holds already. How the resistance
// itself moves with the vehicle's figures is left out, and what a regulator would do about
// it: it is a term of the reading's error.
func (w *Worker) strayVolts(p *Probe, adjoint []float64, row []float64) float64 {
	if p.kind != question.Volts {
		return 0
	}
	ohms := 0.0
	if i := w.M.main.At(p.red); i >= 0 {
		ohms += adjoint[i]
	}
	if i := w.M.main.At(p.black); i >= 0 {
		ohms -= adjoint[i]
	}
	if row != nil {
		row[w.M.stray] += StrayAmps * ohms
	}
	return StrayAmps * ohms * w.z[w.M.stray]
}

// megohms is what an ohmmeter shows of a resistance r [Ohm], with the derivatives with
// respect to r and to the coordinate of the model term: r exp(s z w), where w is the share
// that leaks have in it, r^2/(r^2 + megohmFrom^2).
func (m *Model) megohms(r float64, z []float64) (shows, byOhms, byZ float64) {
	share := r * r / (r*r + megohmFrom*megohmFrom)
	factor := math.Exp(megohmSpread * z[m.megohm] * share)
	shows = r * factor
	return shows, factor * (1 + 2*megohmSpread*z[m.megohm]*share*(1-share)), megohmSpread * share * shows
}
