package prediction

import (
	"chargewright/circuit"
	"chargewright/machine"
	"chargewright/system"
)

// alternator is a machine in the vehicle's network: with field diodes or without.
// Its terminals begin with stud, case and rings, the first unknown of its own is
// the field current, its parameters are machine.Alternator's.
type alternator interface {
	circuit.Device
	Ripple(x, p []float64, which machine.Output, dx, dp []float64) float64
	RippleOhms(p []float64) float64
	Ratio(x, p []float64) float64
	Timed(x, p []float64) (machine.Timed, error)
}

// newAlternator makes a machine and names its terminals.
func newAlternator(x *system.Machine) (alternator, []string, error) {
	diode := machine.Diode{Saturation: x.DiodeSaturation, Emission: x.DiodeEmission, Ohms: x.DiodeOhms}
	pins := []string{x.Output, x.Case, x.RingA, x.RingB}
	if x.DPlus == "" {
		a, err := machine.NewAlternator(diode, x.FluxKnee, x.Saturation)
		return a, pins, err
	}
	field := machine.Diode{Saturation: x.FieldDiodeSaturation, Emission: x.FieldDiodeEmission, Ohms: x.FieldDiodeOhms}
	a, err := machine.NewNineDiode(diode, field, x.FluxKnee, x.Saturation)
	return a, append(pins, x.DPlus), err
}

// alternatorSize is how many terminals and unknowns the largest machine has.
func (m *Model) alternatorSize() int {
	most := 0
	for i := range m.gens {
		terminals, unknowns, _ := m.gens[i].alt.Size()
		most = max(most, terminals+unknowns)
	}
	return most
}

// patternsOf reads a fault's rectifier patterns, as each machine's device counts it.
func patternsOf(sys *system.System, f system.Fault) (out []int, err error) {
	names := []string{f.Pattern, f.SecondPattern}
	for i, x := range sys.Generators() {
		var p int
		if x.Machine.DPlus != "" {
			var nine machine.NinePattern
			nine, err = machine.ParseNinePattern(names[i])
			p = int(nine)
		} else {
			var six machine.Pattern
			six, err = machine.ParsePattern(names[i])
			p = int(six)
		}
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// output is the pattern whose table gives a machine's output.
func (g *generator) output(pattern int) machine.Pattern {
	if g.sys.Machine.DPlus != "" {
		return machine.NinePattern(pattern).Output()
	}
	return machine.Pattern(pattern)
}

// past writes the parameters at which a machine was that feeds its own field: those
// of the highest speed since the start. Nil where there is nothing to wake.
func (w *Worker) past() []float64 {
	if w.M.Sys.Machine.DPlus == "" || w.cond.omega == 0 {
		return nil
	}
	if w.cond.reached <= w.cond.omega {
		return w.a.p
	}
	w.before = append(w.before[:0], w.a.p...)
	w.before[w.M.gens[0].alternator+machine.Omega] = w.cond.reached
	return w.before
}

// operate finds the operating point for the assembled parameters.
func (w *Worker) operate() error {
	if past := w.past(); past != nil {
		return w.main.Woken(w.a.p, past)
	}
	return w.main.Solve(w.a.p)
}
