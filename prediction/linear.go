package prediction

import (
	"math"

	"chargewright/battery"
	"chargewright/circuit"
	"chargewright/machine"
	"chargewright/question"
	"chargewright/regulator"
	"chargewright/system"
)

// Linear is a system's network with plain stand-ins for its devices, so that any
// circuit simulator solves the same equations: the solver is held against
// ngspice on it, node by node. Its readings are no predictions.
//
// Every joint, wire, load and gap is the vehicle's own, with faults and hook-up
// applied. The battery is its open-circuit volts behind its ohmic resistance,
// the machine an EMF behind a resistance and a diode, the regulator's output
// stage a resistance at a fixed duty, the load tester half a constant current
// and half a resistance.
type Linear struct {
	Net *circuit.Compiled
	// Tight is the share of a machine's saturation current that its stand-in has; 0 is all.
	// In reverse ngspice 39 lets a diode pass IS (1 + (3 n vt / (e v))^3) where the law
	// says IS [its manual, diode model; memory]: behind megohms that shows.
	Tight float64

	m                   *Model
	ohms                []circuit.Param
	gens                []standIn
	batteries           []circuit.Param
	testerA, testerOhms circuit.Param
}

// standIn is what stands for one machine with its regulator.
type standIn struct{ emf, diode, rotor, stage, draw circuit.Param }

// Figures of the stand-ins: round ones of the right size, nothing is read off them.
const (
	standInDuty = 0.5                 // of the regulator
	standInAmps = 20.0                // of a load tester that holds volts [A]
	ownOhms     = 600.0               // regulator, supply to case [Ohm]
	spiceVolt   = 0.02586491700715746 // kT/q of ngspice at 27 degC [V]; program: ngspice 39, v/ln(i/IS+1) of a diode
)

// Linear builds the network. One serves all hypotheses and setups.
func (m *Model) Linear() (*Linear, error) {
	sys, l := m.Sys, &Linear{m: m}
	names := m.main.Network().Names()
	net := circuit.New(names[0])
	for _, n := range names[1:] {
		net.Node(n)
	}
	for _, e := range sys.Elements {
		l.ohms = append(l.ohms, net.Resistor(e.ID, net.Node(e.From), net.Node(e.To)))
	}
	at := func(p string) circuit.Node { return net.Node(p) }
	for i := range m.gens {
		s, err := m.gens[i].standIn(net)
		if err != nil {
			return nil, err
		}
		l.gens = append(l.gens, s)
	}
	l.testerOhms = net.Resistor("load tester", at(sys.Bank.Plus), at(sys.Bank.Minus))
	var err error
	if l.testerA, _, err = net.Add("load tester", circuit.Source{}, at(sys.Bank.Minus), at(sys.Bank.Plus)); err != nil {
		return nil, err
	}
	for _, b := range sys.Accumulators() {
		first, _, err := net.Add(b.Device, circuit.EMF{}, at(b.Positive), at(b.Negative))
		if err != nil {
			return nil, err
		}
		l.batteries = append(l.batteries, first)
	}
	l.Net, err = net.Compile()
	return l, err
}

// standIn adds a machine's stand-ins to a network.
func (g *generator) standIn(net *circuit.Network) (s standIn, err error) {
	at := func(p string) circuit.Node { return net.Node(p) }
	x, r := g.sys.Machine, g.sys.Regulator
	name := ""
	if g.sys.MachineParams == system.SecondMachine {
		name = "second "
	}
	inner := net.Node(name + "machine, behind the diode")
	s.rotor = net.Resistor(name+"rotor", at(x.RingA), at(x.RingB))
	far := r.Case
	if g.stage.feeds {
		far = r.Supply
	}
	s.stage = net.Resistor(name+"output stage", at(r.Field), at(far))
	s.draw = net.Resistor(name+"regulator", at(r.Supply), at(r.Case))
	if s.emf, _, err = net.Add(name+"machine", circuit.EMF{}, inner, at(x.Case)); err != nil {
		return s, err
	}
	s.diode, _, err = net.Add(name+"rectifier", circuit.Diode{}, inner, at(x.Output))
	return s, err
}

// Params are the network's numbers for a hypothesis at z in a setup.
func (l *Linear) Params(h Hypothesis, comp Component, s question.Setup, z []float64) []float64 {
	v, sys := l.m.Values(h, comp, s, z), l.m.Sys
	p := make([]float64, l.Net.Network().Params())
	for i, q := range l.ohms {
		p[q] = v.Ohms[i]
	}
	for i, b := range v.Batteries {
		soc := math.Min(math.Max(b[battery.SoC], 0), 1)
		open, _ := l.m.bats[i].model.OpenCircuitVolts(soc) // within its range
		p[l.batteries[i]] = open + b[battery.Surface] - b[battery.CellLoss]
		p[l.batteries[i]+1] = l.m.bats[i].model.ACResistance(b, nil)
	}
	for i, s := range l.gens {
		one, x := v.GeneratorValues, l.m.gens[i].sys.Machine
		if i > 0 {
			one = *v.Second
		}
		p[s.emf], p[s.emf+1] = l.m.gens[i].emf(sys.Volts, one.Alternator)
		p[s.diode] = x.DiodeSaturation
		if l.Tight > 0 {
			p[s.diode] *= l.Tight
		}
		p[s.diode+1] = 2 * x.DiodeEmission * spiceVolt
		p[s.diode+2] = 2 * x.DiodeOhms
		p[s.rotor] = one.Alternator[machine.RotorOhms]
		p[s.stage] = stageOhms(one)
		p[s.draw] = ownOhms
	}
	amps := v.BankAmps
	if v.HoldVolts > 0 {
		amps = standInAmps
	}
	p[l.testerA], p[l.testerOhms] = amps/2, circuit.Open
	if amps > 0 {
		// Half as a resistance: with the battery open, current alone would
		// ask for gigavolts.
		p[l.testerOhms] = 2 * sys.Volts / amps
	}
	return p
}

// emf is the EMF [V] and resistance [Ohm] of an ideal rectifier behind the
// machine's EMF and reactance: 3 sqrt(3)/pi and 3 omega L/pi + 2 R, as for a
// bridge whose current commutates [memory]. Diodes that are open or shorted take
// a sixth of the EMF each: two patterns give two networks, no more is meant.
func (g *generator) emf(nominal float64, a []float64) (volts, ohms float64) {
	x := g.sys.Machine
	omega := a[machine.Omega] * (1 - a[machine.Slip])
	amps := standInDuty * nominal / a[machine.RotorOhms] * a[machine.Turns]
	flux := (1+x.Saturation)*amps/(x.FluxKnee+x.Saturation*amps) + a[machine.Residual]
	whole := 1 - float64(faulty(g.output(int(a[machine.PatternIndex]+0.5))))/6
	return 3 * math.Sqrt(3) / math.Pi * a[machine.Flux] * omega * flux * whole,
		3*omega*a[machine.Inductance]/math.Pi + 2*a[machine.StatorOhms]
}

// faulty counts what a pattern changes.
func faulty(p machine.Pattern) int {
	b, n := p.Changes(1), 0
	for k := range b.Open {
		if b.Open[k] || b.Across[k] > 0 {
			n++
		}
	}
	for k := range b.PhaseOpen {
		if b.PhaseOpen[k] {
			n += 2
		}
		if b.Earth[k] > 0 {
			n++
		}
	}
	if b.Between > 0 {
		n += 3
	}
	return n
}

// stageOhms is the resistance in series with the rotor that gives the current
// of the fixed duty; stuck regulators have duty 0 or 1.
func stageOhms(v GeneratorValues) float64 {
	on := v.Regulator[regulator.OnOhms]
	switch stuck := v.Law[regulator.Stuck]; {
	case stuck <= -0.5:
		return circuit.Open
	case stuck >= 0.5:
		return on
	}
	return on + v.Alternator[machine.RotorOhms]*(1/standInDuty-1)
}

// Ohms is the parameter of the system's element i.
func (l *Linear) Ohms(i int) circuit.Param { return l.ohms[i] }
