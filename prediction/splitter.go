package prediction

import (
	"math"

	"chargewright/circuit"
)

// The parameters of a diode splitter: one figure for both of its diodes, which share a plate.
const (
	splitterDrop   = iota // of a diode at splitterAmps [V]
	splitterParams        // how many there are
)

const (
	splitterAmps = 10.0 // current at which its drop is given [A]
	thermalVolts = 1.380649e-23 / 1.602176634e-19 * 300.15
	splitterTop  = 400.0 // current from which a diode goes on in a straight line [A]
	// splitterOhms is what a conducting diode is to ripple [Ohm]: its slope at 15 A.
	splitterOhms = 3e-3
)

// splitter is a plate from which two diodes feed a battery each: terminals plate and
// the two outlets. A diode is Shockley's, I = Is (exp(V/nVt) - 1), without its series
// resistance, which the joints beside it hold. Its drop moves with the logarithm of the
// current: a sixth of a volt over a decade and no more, which is how it is told from
// a joint (docs/models/splitter.md).
type splitter struct{ slope float64 } // n kT/q [V]

// Size implements circuit.Device.
func (splitter) Size() (terminals, unknowns, params int) { return 3, 0, splitterParams }

// diode is its current at v and the slopes by v and by the drop.
func (d splitter) diode(v, drop float64) (amps, dv, dDrop float64) {
	is := splitterAmps * math.Exp(-drop/d.slope)
	top := drop + d.slope*math.Log(splitterTop/splitterAmps)
	if v > top {
		g := splitterTop / d.slope
		return splitterTop - is + g*(v-top), g, is/d.slope - g
	}
	e := is * math.Exp(v/d.slope)
	return e - is, e / d.slope, (is - e) / d.slope
}

// Stamp implements circuit.Device.
func (d splitter) Stamp(x, p, f, jac []float64) {
	for k := 1; k <= 2; k++ {
		amps, dv, _ := d.diode(x[0]-x[k], p[splitterDrop])
		f[0], f[k] = f[0]+amps, -amps
		jac[0] += dv
		jac[k] = -dv
		jac[3*k], jac[3*k+k] = -dv, dv
	}
}

// Grad implements circuit.Device.
func (d splitter) Grad(x, p, dfdp []float64) {
	for k := 1; k <= 2; k++ {
		_, _, dDrop := d.diode(x[0]-x[k], p[splitterDrop])
		dfdp[splitterDrop] += dDrop
		dfdp[k*splitterParams+splitterDrop] = -dDrop
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
	m.par.splitter, _, err = main.Add("splitter", splitter{x.Emission * thermalVolts}, at(main, x.In), at(main, x.Out[0]), at(main, x.Out[1]))
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
