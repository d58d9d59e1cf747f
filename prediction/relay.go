package prediction

import (
	"slices"

	"chargewright/circuit"
	"chargewright/internal/smooth"
)

// The parameters of a relay, in order.
const (
	relayCoilOhms    = iota // winding [Ohm]
	relayContactOhms        // contacts while they are closed [Ohm]
	relayOpens              // coil voltage up to which they are open [V]
	relayCloses             // coil voltage from which they are closed [V]
	relayParams
)

// relay is a pair of contacts that a coil closes: terminals coil plus, coil minus
// and the two contacts. Between its two voltages the contacts conduct in part, as
// the mean of a relay that chatters does; it has no memory, so that it drops out
// where it pulls in. Its winding is a resistance.
type relay struct{}

// Size implements circuit.Device.
func (relay) Size() (terminals, unknowns, params int) { return 4, 0, relayParams }

// narrowest is the least distance of a relay's two voltages [V].
const narrowest = 0.1

// pulled is how far the contacts are closed at a coil voltage, with its slopes by
// that and by the two voltages.
func pulled(v float64, p []float64) (share, dv, dOpens, dCloses float64) {
	width, dwidth := smooth.Floor(p[relayCloses]-p[relayOpens], narrowest, narrowest/2)
	t := (v - p[relayOpens]) / width
	share, slope := smooth.Rise(t)
	dv = slope / width
	byWidth := -dv * t * dwidth
	return share, dv, -dv - byWidth, byWidth
}

// Stamp implements circuit.Device.
func (relay) Stamp(x, p, f, jac []float64) {
	coil, across := x[0]-x[1], x[2]-x[3]
	g := 1 / p[relayCoilOhms]
	f[0], f[1] = coil*g, -coil*g
	jac[0], jac[1], jac[4], jac[5] = g, -g, -g, g
	share, dv, _, _ := pulled(coil, p)
	c := share / p[relayContactOhms]
	dc := dv / p[relayContactOhms] * across
	f[2], f[3] = c*across, -c*across
	jac[8], jac[9], jac[10], jac[11] = dc, -dc, c, -c
	jac[12], jac[13], jac[14], jac[15] = -dc, dc, -c, c
}

// Grad implements circuit.Device.
func (relay) Grad(x, p, dfdp []float64) {
	coil, across := x[0]-x[1], x[2]-x[3]
	byCoil := -coil / (p[relayCoilOhms] * p[relayCoilOhms])
	dfdp[relayCoilOhms], dfdp[relayParams+relayCoilOhms] = byCoil, -byCoil
	share, _, dOpens, dCloses := pulled(coil, p)
	r := p[relayContactOhms]
	for k, d := range [relayParams]float64{
		relayContactOhms: -share / (r * r) * across, relayOpens: dOpens / r * across, relayCloses: dCloses / r * across,
	} {
		if k != relayCoilOhms {
			dfdp[2*relayParams+k], dfdp[3*relayParams+k] = d, -d
		}
	}
}

// addRelay adds the vehicle's relay to both networks: device and, with nothing live,
// its winding, its contacts open.
func (m *Model) addRelay(main, passive *circuit.Network) (err error) {
	x := m.Sys.Relay
	if x.CoilPlus == "" {
		return nil
	}
	at := func(net *circuit.Network, id string) circuit.Node { k, _ := net.Find(id); return k }
	m.par.relay, _, err = main.Add("relay", relay{}, at(main, x.CoilPlus), at(main, x.CoilMinus), at(main, x.In), at(main, x.Out))
	m.par.passiveRelay = passive.Resistor("relay winding", at(passive, x.CoilPlus), at(passive, x.CoilMinus))
	return err
}

func (m *Model) putRelay(a *assembly) {
	if m.Sys.Relay.CoilPlus == "" {
		return
	}
	winding := m.scalar(a, "relay.coil-ohms")
	m.put(a, m.par.relay+relayCoilOhms, winding)
	m.putPassive(a, m.par.passiveRelay, winding)
	m.put(a, m.par.relay+relayContactOhms, m.scalar(a, "relay.contact-ohms"))
	m.put(a, m.par.relay+relayOpens, m.scalar(a, "relay.opens"))
	m.put(a, m.par.relay+relayCloses, m.scalar(a, "relay.closes"))
}

// Relay is what a vehicle's relay is: its winding and contacts [Ohm], and the coil
// voltages [V] between which it closes.
type Relay struct{ Coil, Contacts, Opens, Closes float64 }

// relayValues are those of an assembly; nil where there is no relay.
func (m *Model) relayValues(a *assembly) *Relay {
	if m.Sys.Relay.CoilPlus == "" {
		return nil
	}
	p := slices.Clone(a.p[m.par.relay:][:relayParams])
	return &Relay{p[relayCoilOhms], p[relayContactOhms], p[relayOpens], p[relayCloses]}
}
