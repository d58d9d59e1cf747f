package prediction

import (
	"math"

	"chargewright/battery"
	"chargewright/circuit"
	"chargewright/system"
)

// accumulator is one battery of the vehicle in its two networks.
type accumulator struct {
	sys     system.Accumulator
	model   battery.Model
	par     circuit.Param
	own     int // its unknown, the current of its main reaction
	passive circuit.Param
}

// addBatteries adds the vehicle's batteries to both networks.
func (m *Model) addBatteries(main, passive *circuit.Network) error {
	at := func(net *circuit.Network, id string) circuit.Node { k, _ := net.Find(id); return k }
	for _, b := range m.Sys.Accumulators() {
		x := accumulator{sys: b}
		var err error
		if x.model, err = battery.New(b.AmpHours, int(math.Round(b.Volts/2))); err != nil {
			return err
		}
		if x.par, x.own, err = main.Add(b.Device, x.model, at(main, b.Positive), at(main, b.Negative)); err != nil {
			return err
		}
		x.passive = passive.Resistor(b.Device, at(passive, b.Positive), at(passive, b.Negative))
		m.bats = append(m.bats, x)
	}
	return nil
}

// putBatteries writes the batteries' parameters.
func (m *Model) putBatteries(a *assembly, c conditions) {
	for i := range m.bats {
		m.putBattery(a, c, &m.bats[i])
	}
}

func (m *Model) putBattery(a *assembly, c conditions, x *accumulator) {
	b, id := x.par, x.sys.Params
	m.put(a, b+battery.SoC, m.charge(a, x))
	m.put(a, b+battery.R0, m.scalar(a, id+"r0"))
	m.put(a, b+battery.Sulphation, m.scalar(a, id+"sulphation"))
	m.put(a, b+battery.CellLoss, m.scalar(a, id+"cell-loss"))
	m.put(a, b+battery.Surface, m.scalar(a, id+"surface"))
	m.put(a, b+battery.Temperature, exactly(c.batteryT))
	m.put(a, b+battery.Capacity, m.scalar(a, id+"capacity"))
	if a.lean {
		return
	}
	// The ohmic part alone, for ripple and resistance.
	var grad [battery.Params]float64
	r := number{v: x.model.ACResistance(a.p[b:b+battery.Params], grad[:])}
	m.putPassive(a, x.passive, r)
	for _, l := range a.links {
		if l.p >= b && l.p < b+battery.Params && grad[l.p-b] != 0 {
			a.plink = append(a.plink, link{x.passive, l.z, grad[l.p-b] * l.d})
		}
	}
}

// logitEnd keeps a logit finite: beyond it a battery is empty or full.
const logitEnd = 1e-9

// charge is a battery's state of charge. Two that always worked together have
// about the same one: that of the second stands apart from the first's by a
// difference of logits.
func (m *Model) charge(a *assembly, x *accumulator) number {
	if !x.sys.Follows {
		return m.scalar(a, x.sys.Params+"soc")
	}
	first := m.scalar(a, system.FirstBattery+"soc")
	apart := m.scalar(a, system.SecondBattery+"apart")
	in := math.Min(math.Max(first.v, logitEnd), 1-logitEnd)
	out := exactly(1 / (1 + (1-in)/in*math.Exp(-apart.v)))
	slope := out.v * (1 - out.v)
	for i := range first.n {
		out.depend(first.z[i], slope/(in*(1-in))*first.d[i])
	}
	for i := range apart.n {
		out.depend(apart.z[i], slope*apart.d[i])
	}
	return out
}
