package prediction

import (
	"slices"

	"chargewright/battery"
	"chargewright/machine"
	"chargewright/question"
	"chargewright/regulator"
)

// Values are the numbers of a vehicle standing in a setup: every resistance
// with faults and hook-up applied, and the parameters of its devices. Another
// program solves the same vehicle from them.
type Values struct {
	Ohms      []float64   // of the system's elements, in their order [Ohm]
	Batteries [][]float64 // parameters of battery.Model, of each battery
	Reached   float64     // highest electrical speed since the start, before slip [rad/s]; 0 = the present one
	GeneratorValues
	Second    *GeneratorValues // of a second machine; nil = the vehicle has none
	Resting   []Resting        // the regulators with nothing live
	Relay     *Relay           // nil = the vehicle has none
	Splitter  *Splitter        // nil = the vehicle has none
	Asked     float64          // what a control unit says that it asks for [V]; 0 where there is none
	BankAmps  float64          // what the load tester is set to draw [A]
	HoldVolts float64          // what it holds the battery at [V]; 0 = not held
	Density   float64          // specific gravity of the electrolyte
}

// GeneratorValues are the numbers of a machine with its regulator.
type GeneratorValues struct {
	Alternator []float64 // parameters of machine.Alternator
	Regulator  []float64 // parameters of the regulator's device; its duty is not set
	Law        []float64 // parameters of regulator.Law
}

// values are those of an assembly.
func (g *generator) values(a *assembly) GeneratorValues {
	return GeneratorValues{
		Alternator: slices.Clone(a.p[g.alternator:][:machine.NumParams]),
		Regulator:  slices.Clone(a.p[g.regulator:][:g.stage.params]),
		Law:        slices.Clone(a.p[g.law:][:regulator.LawParams]),
	}
}

// Resting is a resistance that the regulator is to an ohmmeter with nothing live.
type Resting struct {
	Name, From, To string
	Ohms           float64
}

// Values returns the numbers of a vehicle at z in a setup. z must be Dims long.
func (m *Model) Values(h Hypothesis, comp Component, s question.Setup, z []float64) Values {
	a := m.newAssembly()
	c := m.conditionsOf(s)
	m.assemble(&a, h, comp, c, z)
	v := Values{
		Reached:         c.reached,
		GeneratorValues: m.gens[0].values(&a),
		Relay:           m.relayValues(&a),
		Splitter:        m.splitterValues(&a),
		BankAmps:        a.p[m.par.bank+testerAmps],
	}
	if len(m.gens) > 1 {
		second := m.gens[1].values(&a)
		v.Second = &second
	}
	if hold := a.p[m.par.bank+testerHold]; hold < notHeld {
		v.HoldVolts = hold
	}
	if m.gens[0].stage.told {
		v.Asked = a.p[m.par.asked]
	}
	for i := range m.bats {
		v.Batteries = append(v.Batteries, slices.Clone(a.p[m.bats[i].par:][:battery.Params]))
	}
	for i := range m.gens {
		for _, x := range m.gens[i].stage.rest {
			v.Resting = append(v.Resting, Resting{x.name, x.from, x.to, a.rest[len(v.Resting)]})
		}
	}
	for i := range m.elems {
		v.Ohms = append(v.Ohms, a.p[m.elems[i].main])
	}
	v.Density, _ = battery.DensityAt(v.Batteries[0][battery.SoC])
	return v
}
