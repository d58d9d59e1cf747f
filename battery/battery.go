// Package battery models a flooded lead-acid starter battery: open-circuit
// voltage from charge, a discharge branch, a charge branch with polarisation, a
// gassing shunt; and the tables a technician uses beside it (specific gravity,
// freezing, load test).
//
// It holds no state of its own and no time: charge, surface charge and
// temperature are parameters. It refuses, in the functions that answer people,
// what lies outside a table; in the circuit it clamps smoothly instead. Sealed,
// gel and lithium batteries are not modelled. Open device.go for the circuit
// element, law.go for the equations, tables.go for the trade's tables.
// Equations, ranges and sources: docs/models/battery.md.
package battery

import (
	"fmt"
	"math"
)

// The parameters of the device, in order.
const (
	SoC         = iota // state of charge, 0..1
	R0                 // internal resistance, full and at 25 degC [Ohm]
	Sulphation         // factor on resistance and polarisation, 1 = healthy
	CellLoss           // open-circuit voltage lost by dead or weak cells [V]
	Surface            // surface charge, added to the open-circuit voltage [V]
	Temperature        // electrolyte [K]
	Capacity           // what wear left of the rated capacity, 1 = new
	Params             // how many
)

// Model is one battery; make it with New. It is a circuit.Device with the
// terminals plus and minus and one unknown, the current [A] of the main
// reaction, positive when charging.
type Model struct {
	AmpHours float64 // rated at 20 h [Ah]
	Cells    int     // in series, 6 for a 12 V battery
}

// New returns a battery of the rated capacity [Ah] at 20 h and the number of
// cells in series: 3, 6 or 12.
func New(ampHours float64, cells int) (Model, error) {
	if !(ampHours >= 5 && ampHours <= 500) {
		return Model{}, fmt.Errorf("a battery of %g Ah is outside 5 to 500 Ah: give the 20-hour capacity in Ah", ampHours)
	}
	if cells != 3 && cells != 6 && cells != 12 {
		return Model{}, fmt.Errorf("a battery of %d cells is not modelled: give 3 (6 V), 6 (12 V) or 12 (24 V)", cells)
	}
	return Model{ampHours, cells}, nil
}

// scale is how many batteries of six cells are in series; at least one cell, so
// that a Model not made by New does not divide by nothing.
func (m Model) scale() float64 { return float64(max(m.Cells, 1)) / 6 }

// Healthy returns the parameters of a battery in order at a state of charge and
// temperature [K]: R0 is 6.5 mOhm for six cells of 55 Ah and scales with cells
// over capacity (memory: 5 to 8 mOhm).
func (m Model) Healthy(soc, kelvin float64) []float64 {
	p := make([]float64, Params)
	p[SoC], p[Temperature] = soc, kelvin
	p[R0] = 6.5e-3 * m.scale() * 55 / math.Max(m.AmpHours, smallestAh)
	p[Sulphation], p[Capacity] = 1, 1
	return p
}

// OpenCircuitVolts is the rested voltage [V] of the battery at a state of charge
// 0..1, all cells alike.
func (m Model) OpenCircuitVolts(soc float64) (float64, error) {
	if !(soc >= 0 && soc <= 1) {
		return 0, fmt.Errorf("a state of charge of %g is outside 0 to 1", soc)
	}
	v, _ := cellVolts(soc)
	return v * float64(max(m.Cells, 1)), nil
}

// ACResistance is the resistance [Ohm] that ripple current sees: the ohmic part
// alone, since polarisation does not follow within a ripple period (memory). If
// grad is not nil it must have length Params and receives the derivatives.
func (m Model) ACResistance(p, grad []float64) float64 {
	s := m.at(p)
	if len(grad) >= Params {
		clear(grad)
		grad[SoC], grad[R0], grad[Sulphation], grad[Temperature] = s.r.soc, s.r.r0, s.r.sulph, s.r.temp
	}
	return s.r.v
}
