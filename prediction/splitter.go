package prediction

import (
	"math"

	"chargewright/circuit"
	"chargewright/machine"
)

// The parameters of a diode splitter: one figure for both of its diodes, which share a plate.
const (
	splitterDrop   = iota // of a diode at splitterAmps [V]
	splitterParams        // how many there are
)

// thermalVolts is kT/q at 27 degrees C [V]; machine says so of its diodes too.
const thermalVolts = 1.380649e-23 / 1.602176634e-19 * 300.15

const (
	splitterAmps = 10.0 // current at which its drop is given [A]
	// splitterOhms is what a conducting diode is to ripple [Ohm]: its slope at 15 A.
	splitterOhms = 3e-3
	// splitterRun is the resistance over which a diode's own unknown is told [Ohm]: about
	// what an alternator is behind it, so that neither side of its corner is steep.
	splitterRun = 0.1
)

// splitter is a plate from which two diodes feed a battery each: terminals plate and
// the two outlets, then an unknown of each diode. A diode is Shockley's,
// I = Is (exp(V/nVt) - 1), without its series resistance, which the joints beside it
// hold. Its drop moves with the logarithm of the current: a sixth of a volt over a
// decade and no more, which is how it is told from a joint.
//
// The unknown is q = V + I splitterRun, by which current and drop go in all but
// straight lines on both sides of the corner. By V alone the current runs away, and
// Newton's method comes down to it one nVt a step.
type splitter struct{ emission float64 }

// Size implements circuit.Device.
func (splitter) Size() (terminals, unknowns, params int) { return 3, 2, splitterParams }

const splitterSize = 5

// diode is its current at q and the slopes by q and by the drop.
func (d splitter) diode(q, drop float64) (amps, dq, dDrop float64) {
	slope := d.emission * thermalVolts
	is := splitterAmps * math.Exp(-drop/slope)
	amps, dq = machine.Diode{Saturation: is, Emission: d.emission, Ohms: splitterRun}.At(q)
	return amps, dq, is/slope - dq*(1+splitterRun*is/slope)
}

// Stamp implements circuit.Device.
func (d splitter) Stamp(x, p, f, jac []float64) {
	const n = splitterSize
	for k := 1; k <= 2; k++ {
		own := 2 + k
		amps, dq, _ := d.diode(x[own], p[splitterDrop])
		f[0], f[k] = f[0]+amps, -amps
		jac[own], jac[k*n+own] = dq, -dq
		f[own] = x[0] - x[k] - (x[own] - splitterRun*amps)
		jac[own*n], jac[own*n+k], jac[own*n+own] = 1, -1, splitterRun*dq-1
	}
}

// Grad implements circuit.Device.
func (d splitter) Grad(x, p, dfdp []float64) {
	for k := 1; k <= 2; k++ {
		own := 2 + k
		_, _, dDrop := d.diode(x[own], p[splitterDrop])
		dfdp[splitterDrop] += dDrop
		dfdp[k*splitterParams+splitterDrop] = -dDrop
		dfdp[own*splitterParams+splitterDrop] = splitterRun * dDrop
	}
}

// addSplits adds what stands between two batteries: a splitter, a relay, or neither.
func (m *Model) addSplits(main, passive *circuit.Network) error {
	if err := m.addSplitter(main, passive); err != nil {
		return err
	}
	return m.addRelay(main, passive)
}

// addSplitter adds the vehicle's splitter to both networks: to an ohmmeter its diodes
// are open.
func (m *Model) addSplitter(main, passive *circuit.Network) (err error) {
	x := m.Sys.Splitter
	if x.In == "" {
		return nil
	}
	at := func(net *circuit.Network, id string) circuit.Node { k, _ := net.Find(id); return k }
	m.par.splitter, _, err = main.Add("splitter", splitter{x.Emission}, at(main, x.In), at(main, x.Out[0]), at(main, x.Out[1]))
	for k, out := range x.Out {
		m.par.passiveSplitter[k] = passive.Resistor("splitter diode", at(passive, x.In), at(passive, out))
	}
	return err
}

func (m *Model) putSplitter(a *assembly) {
	if m.Sys.Splitter.In != "" {
		m.put(a, m.par.splitter+splitterDrop, m.scalar(a, "splitter.drop"))
	}
}

// Splitter is what a vehicle's splitter is: the drop of its diodes at 10 A [V], and
// their saturation current [A].
type Splitter struct{ Drop, Saturation float64 }

// splitterValues are those of an assembly; nil where there is no splitter.
func (m *Model) splitterValues(a *assembly) *Splitter {
	x := m.Sys.Splitter
	if x.In == "" {
		return nil
	}
	drop := a.p[m.par.splitter+splitterDrop]
	return &Splitter{drop, splitterAmps * math.Exp(-drop/(x.Emission*thermalVolts))}
}
