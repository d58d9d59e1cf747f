package prediction

import "slices"

// CanWake says whether the machine feeds its own field, so that a running vehicle is
// asleep or awake and its readings jump between the two.
func (m *Model) CanWake() bool { return m.Sys.Machine.DPlus != "" }

// Wakes reports whether a question is one of a running machine that may be asleep.
func (m *Model) Wakes(a *Asked) bool { return m.CanWake() && !a.dead && a.cond.omega > 0 }

// Waking is how far the machine is from falling asleep, or from waking where it is
// negative [V], at the operating point held last; see circuit.Solver.Waking. Its
// derivatives with respect to z are written to row.
func (w *Worker) Waking(row []float64) (float64, error) {
	if w.waker == nil {
		w.waker = w.M.main.NewSolver()
	}
	past := w.past()
	w.waker.Start(w.start)
	clear(w.grad)
	v, err := w.waker.Waking(past, w.grad)
	if err != nil {
		return 0, err
	}
	clear(row)
	for _, l := range w.a.links {
		row[l.z] += w.grad[l.p] * l.d
	}
	return v, nil
}

// Pressed is z with the regulator set to hold more than the machine gives under load:
// what is read there goes with the machine and not with the set point. A fit that
// regulates sees nothing of the machine.
func (m *Model) Pressed(z []float64) []float64 {
	out := slices.Clone(z)
	if s := m.scalars[m.scalAt["regulator.setpoint"]]; s.z >= 0 {
		out[s.z] += pressedBy
	}
	return out
}

// pressedBy is by how many spreads: half a volt and more.
const pressedBy = 4

// Parted is z with the lower set-point of two machines set lower still, so that under a
// light load this machine clearly rests: there its amps hang on neither set-point.
func (m *Model) Parted(z []float64) []float64 {
	out := slices.Clone(z)
	one, two := m.scalars[m.scalAt["regulator.setpoint"]], m.scalars[m.scalAt["second-regulator.setpoint"]]
	if one.z < 0 || two.z < 0 {
		return out
	}
	lower := two.z
	if z[one.z] < z[two.z] {
		lower = one.z
	}
	out[lower] -= partedBy
	return out
}

// partedBy is by how many spreads: about a regulator's band.
const partedBy = 2
