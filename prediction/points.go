package prediction

import (
	"math"

	"chargewright/circuit"
)

// Points counts the operating points that a vehicle with its engine turning has
// in a setup, as far as three starts find them: where charging settles, a dead
// vehicle without field, and what Solve takes. Solve must have gone before; its
// operating point is there again afterwards. A machine that feeds its own field
// can charge or stay dead, and a regulator whose sense wire carries its own
// current can hold itself at full field.
func (w *Worker) Points() (int, error) {
	if w.cond.omega == 0 {
		return 1, nil
	}
	var taken circuit.Warm
	w.main.Save(&taken)
	found := []float64{w.studsVolts()}
	roots := max(w.main.Sheet.Roots, 1)
	for _, start := range [][]float64{w.high, make([]float64, len(w.start))} {
		w.main.Forget()
		w.main.Start(start)
		if w.main.Settle(w.a.p) == nil && !near(found, w.studsVolts()) {
			found = append(found, w.studsVolts())
		}
	}
	w.main.Resume(&taken)
	err := w.main.Solve(w.a.p)
	return max(roots, len(found)), err
}

// studsVolts is the sum of all studs' volts, which tells operating points apart.
func (w *Worker) studsVolts() (sum float64) {
	for i := range w.M.gens {
		sum += w.studVolts(&w.M.gens[i])
	}
	return sum
}

// near tells whether a voltage is one of those found already. Two starts end
// closer than this at one point, and no two points are so close.
func near(found []float64, volts float64) bool {
	for _, v := range found {
		if math.Abs(v-volts) < 10*samePoint {
			return true
		}
	}
	return false
}
