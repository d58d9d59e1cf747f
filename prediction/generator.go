package prediction

import (
	"fmt"
	"math"
	"strings"

	"chargewright/circuit"
	"chargewright/machine"
	"chargewright/regulator"
	"chargewright/system"
)

// maxMachines is how many machines a vehicle may have.
const maxMachines = 2

// generator is one machine with its regulator in the vehicle's two networks.
type generator struct {
	sys       system.Generator
	alt       alternator
	terminals []string // points of alt's terminals
	nodes     []circuit.Node
	stage     stage
	at        map[string]int // scalars of its own, by the ids of a first machine
	field     int            // its own unknowns: the first is the field current
	ratio     float64        // its electrical speed over the first machine's

	alternator, regulator, law circuit.Param
	rotor, rectifier           circuit.Param // in the passive network
}

// newGenerator makes the devices of a machine and its regulator.
func (m *Model) newGenerator(x system.Generator) (g generator, err error) {
	g = generator{sys: x, at: map[string]int{}, ratio: electrical(x.Machine) / m.electrical()}
	if g.stage, err = stageOf(m.Sys.ID, x.Regulator); err != nil {
		return g, err
	}
	if g.alt, g.terminals, err = newAlternator(x.Machine); err != nil {
		return g, fmt.Errorf("prediction: %s: %w", x.Device, err)
	}
	for i, s := range m.scalars {
		for own, first := range map[string]string{x.MachineParams: system.FirstMachine, x.RegulatorParams: system.FirstRegulator} {
			if rest, ok := strings.CutPrefix(s.id, own); ok {
				g.at[first+rest] = i
			}
		}
	}
	return g, nil
}

// withSecond adds the parameters of a second machine and its regulator: each as the
// first one's.
func withSecond(list []scalarSlot) []scalarSlot {
	out := append([]scalarSlot(nil), list...)
	for _, s := range list {
		if strings.HasPrefix(s.id, system.FirstMachine) || strings.HasPrefix(s.id, system.FirstRegulator) {
			s.id = "second-" + s.id
			out = append(out, s)
		}
	}
	return out
}

// figure is one of a machine's or its regulator's scalars, by the id of a first one.
func (g *generator) figure(a *assembly, id string) number { return a.scal[g.at[id]] }

// add places the devices in the vehicle's network.
func (g *generator) add(net *circuit.Network) (err error) {
	at := func(id string) circuit.Node { k, _ := net.Find(id); return k }
	g.nodes = nodes(g.terminals, at)
	if g.alternator, g.field, err = net.Add(g.sys.Device, g.alt, g.nodes...); err != nil {
		return err
	}
	if g.sys.Machine.DPlus != "" {
		net.Feeds(g.field)
	}
	g.regulator, _, err = net.Add(g.sys.Stage, g.stage.device, nodes(g.stage.pins, at)...)
	return err
}

// control gives the network the regulator's law.
func (g *generator) control(net *circuit.Network) {
	at := func(id string) circuit.Node { k, _ := net.Find(id); return k }
	r := g.sys.Regulator
	g.law = circuit.Param(net.Params())
	var law []circuit.Param
	for range regulator.LawParams {
		law = append(law, net.Param())
	}
	net.Control(circuit.Control{
		Param: g.regulator + regulator.Duty, Plus: at(r.SensePlus), Minus: at(r.SenseMinus),
		Law: regulator.Law{Volts: r.Volts, Told: g.stage.told}, LawParams: law,
	})
}

// addPassive adds what machine and regulator are with nothing live.
func (g *generator) addPassive(net *circuit.Network) {
	at := func(id string) circuit.Node { k, _ := net.Find(id); return k }
	x := g.sys.Machine
	g.rotor = net.Resistor(g.sys.Device+" rotor", at(x.RingA), at(x.RingB))
	g.rectifier = net.Resistor(g.sys.Device+" rectifier", at(x.Output), at(x.Case))
	for i := range g.stage.rest {
		rest := &g.stage.rest[i]
		rest.passive = net.Resistor(rest.name, at(rest.from), at(rest.to))
	}
}

// putGenerator writes the parameters of a machine and its regulator.
func (m *Model) putGenerator(a *assembly, g *generator, c conditions, pattern int, z []float64) {
	al := g.alternator
	m.put(a, al+machine.Flux, g.figure(a, "machine.flux"))
	ind := g.figure(a, "machine.inductance")
	term := modelTerm(g.output(pattern))
	ind.scale(math.Exp(term * z[m.soft]))
	ind.depend(m.soft, term*ind.v)
	m.put(a, al+machine.Inductance, ind)
	m.put(a, al+machine.StatorOhms, g.figure(a, "machine.stator-ohms"))
	rotor := g.figure(a, "machine.rotor-ohms")
	rotor.scale(1 + copperSlope*(c.ambient+c.rotorRise-copperRef))
	m.put(a, al+machine.RotorOhms, rotor)
	m.putPassive(a, g.rotor, rotor)
	m.put(a, al+machine.Omega, exactly(c.omega*g.ratio))
	m.put(a, al+machine.Slip, belowOne(g.figure(a, "machine.slip")))
	m.put(a, al+machine.Turns, g.figure(a, "machine.turns"))
	m.put(a, al+machine.Residual, g.figure(a, "machine.residual"))
	m.put(a, al+machine.BrushVolts, g.figure(a, "machine.brush-volts"))
	m.put(a, al+machine.PatternIndex, exactly(float64(pattern)))
	if g.sys.Machine.DPlus != "" {
		m.put(a, al+machine.DPlusOff, m.dplusOff(c, machine.NinePattern(pattern), z))
	}
	m.putRegulator(a, g, c)
}
