package prediction

import (
	"fmt"
	"math"
	"slices"

	"chargewright/circuit"
	"chargewright/internal/smooth"
	"chargewright/regulator"
	"chargewright/system"
)

// What a regulator inside the machine sees of its turning: asleep under 500, awake
// from 1000 turns a minute of the alternator's own (memory, docs/models/vehicles-built-in.md).
const (
	turnsFrom  = 500 * 2 * math.Pi / 60  // [rad/s]
	turnsFully = 1000 * 2 * math.Pi / 60 // [rad/s]
)

// askedOhms is how stiff the point stands at which a control unit's own word is
// read: nothing hangs on it but a meter's 10 MOhm.
const askedOhms = 1.0

func insideStage(r *system.Regulator) stage {
	return stage{
		device: regulator.Inside{Volts: r.Volts}, pins: []string{r.Supply, r.Field, r.Case, r.Lamp}, params: regulator.InsideParams,
		more: func(m *Model, g *generator, a *assembly, c conditions) {
			first := g.regulator
			m.put(a, first+regulator.Turning, g.turning(a, c))
			m.put(a, first+regulator.Standing, g.figure(a, "regulator.standing"))
			m.put(a, first+regulator.Phase, g.phaseGain(a, c))
			m.put(a, first+regulator.LampOhms, g.figure(a, "regulator.lamp-ohms"))
		},
	}
}

func commandedStage(r *system.Regulator) stage {
	return stage{
		device: regulator.Commanded{Volts: r.Volts}, pins: []string{r.Supply, r.Field, r.Case, r.Feedback}, params: regulator.CommandedParams, told: true,
		more: func(m *Model, g *generator, a *assembly, c conditions) {
			first := g.regulator
			m.put(a, first+regulator.Turning, g.turning(a, c))
			m.put(a, first+regulator.Answers, g.figure(a, "regulator.answers"))
			m.put(a, m.par.asked, m.asked(a))
			m.put(a, m.par.asked+1, exactly(askedOhms))
		},
	}
}

// addAsked adds the point at which a control unit says what it asks for, as a
// source against the reference.
func (m *Model) addAsked(main *circuit.Network, ref circuit.Node) error {
	if !m.gens[0].stage.told {
		return nil
	}
	at, ok := main.Find(m.Sys.Regulator.Asked)
	if !ok {
		return fmt.Errorf("prediction: system %s: regulator.asked names the point %q, which is not listed under points", m.Sys.ID, m.Sys.Regulator.Asked)
	}
	var err error
	m.par.asked, _, err = main.Add("control unit's word", circuit.EMF{}, at, ref)
	return err
}

// times is the product of two numbers.
func times(a, b number) number {
	out := a
	out.scale(b.v)
	for i := range b.n {
		out.depend(b.z[i], a.v*b.d[i])
	}
	return out
}

// turning is how far the machine's own speed tells its regulator that it turns.
func (g *generator) turning(a *assembly, c conditions) number {
	speed := g.speed(a, c)
	speed.scale(1 / float64(g.sys.Machine.PolePairs))
	share, slope := smooth.Rise((speed.v - turnsFrom) / (turnsFully - turnsFrom))
	speed.scale(slope / (turnsFully - turnsFrom))
	speed.v = share
	return speed
}

// speed is the electrical speed of the machine, slip taken off [rad/s].
func (g *generator) speed(a *assembly, c conditions) number {
	left := belowOne(g.figure(a, "machine.slip"))
	omega := c.omega * g.ratio
	left.scale(-omega)
	left.v += omega
	return left
}

// phaseGain is the crest of a line voltage for an ampere of field, as it is while
// the iron is far from full [V/A]: enough to tell a silent phase from a loud one.
func (g *generator) phaseGain(a *assembly, c conditions) number {
	f := g.sys.Machine
	gain := times(times(g.speed(a, c), g.figure(a, "machine.flux")), g.figure(a, "machine.turns"))
	gain.scale(math.Sqrt(3) * (1 + f.Saturation) / f.FluxKnee)
	return gain
}

// asked is what a control unit asks for: with nothing on what it likes, with a
// large load on what the load needs [V].
func (m *Model) asked(a *assembly) number {
	return m.mixed(m.scalar(a, "regulator.demand"), m.scalar(a, "regulator.forced"), m.scalar(a, "regulator.commanded"))
}

// held is what the regulator holds at 27 degC [V]: what it is asked for where a
// command arrives, its own otherwise, each as well as it measures.
func (m *Model) held(a *assembly, g *generator) number {
	own := g.figure(a, "regulator.setpoint")
	if !g.stage.told {
		return own
	}
	return times(m.mixed(m.scalar(a, "regulator.uncommanded"), own, m.asked(a)), m.scalar(a, "regulator.gain"))
}

// mixed is share of one and the rest of another. A share of 0 or 1 takes nothing
// from the other, so that its figures do not move what is held.
func (m *Model) mixed(share, one, other number) number {
	switch share.v {
	case 0:
		return other
	case 1:
		return one
	}
	one.scale(share.v)
	other.scale(1 - share.v)
	for i := range other.n {
		one.depend(other.z[i], other.d[i])
	}
	one.v += other.v
	return one
}

// setScalars puts the parameters where the hook-up has them: a position's value
// replaces what figures and faults made of it.
func (m *Model) setScalars(a *assembly, c conditions) {
	for _, s := range c.sets {
		if i, ok := m.scalAt[s.Element]; ok && !slices.Contains(byHand, s.Element) {
			a.scal[i] = exactly(s.Value)
		}
	}
}

// byHand are the parameters that a position only switches on, and whose value is
// what the hand makes it.
var byHand = []string{"bank.amps"}
