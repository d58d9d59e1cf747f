package prediction

import (
	"math"
	"slices"
)

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
func (m *Model) Pressed(z []float64) []float64 { return m.setBy(z, pressedBy) }

// Eased is z with a full battery, which takes little, and the regulator set to hold less:
// the machine regulates, and what is read there goes with the set point.
func (m *Model) Eased(z []float64) []float64 {
	out := m.setBy(z, -easedBy)
	if s := m.scalars[m.scalAt["battery.soc"]]; s.z >= 0 {
		out[s.z] = fullBy
	}
	return out
}

// easedBy is by how many spreads the set point is lower, and fullBy by how many the battery
// is fuller than most. Of the starts that were tried this pair lost the fewest of 40 vehicles (docs/decisions/045).
const (
	easedBy = 3
	fullBy  = 2
)

// BySetPoint says whether a prediction with these derivatives hangs on what the
// regulator is set to hold, and whether on the machine's flux.
func (m *Model) BySetPoint(row []float64) (setPoint, flux bool) {
	for _, name := range setPoints {
		setPoint = setPoint || m.hangs(row, name)
	}
	return setPoint, m.hangs(row, "machine.flux")
}

// hangs says whether a prediction with these derivatives hangs on a figure.
func (m *Model) hangs(row []float64, name string) bool {
	s := m.scalars[m.scalAt[name]]
	return s.z >= 0 && math.Abs(row[s.z]) > hangsBy
}

// hangsBy is from what change by a spread a prediction counts as hanging on a figure, in
// its own unit: a tenth of what a meter shows of volts.
const hangsBy = 1e-3

// setPoints are the figures of what a regulator holds: its own, and what a control unit
// asks of it with nothing switched on and under load.
var setPoints = []string{"regulator.setpoint", "regulator.commanded", "regulator.forced"}

// setBy is z with the set points moved by so many spreads.
func (m *Model) setBy(z []float64, spreads float64) []float64 {
	out := slices.Clone(z)
	for _, name := range setPoints {
		if s := m.scalars[m.scalAt[name]]; s.z >= 0 {
			out[s.z] += spreads
		}
	}
	return out
}

// pressedBy is by how many spreads: half a volt and more.
const pressedBy = 4

// CanRest says whether a machine may stand by while the vehicle runs: of two the one with the lower
// set-point, and one whose control unit asks for less than the battery's own volts.
func (m *Model) CanRest() bool {
	return m.Sys.Twin() || m.scalars[m.scalAt["regulator.commanded"]].z >= 0
}

// Parted is z with a set-point set so much lower that under a light load this machine
// clearly rests: there its amps hang on no set-point. It is what a control unit asks for, or
// the lower one of two.
func (m *Model) Parted(z []float64) []float64 {
	out := slices.Clone(z)
	if s := m.scalars[m.scalAt["regulator.commanded"]]; s.z >= 0 {
		out[s.z] -= partedBy
	}
	if !m.Sys.Twin() {
		return out
	}
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
