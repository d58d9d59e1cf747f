package prediction

import "chargewright/machine"

// Beside is what a machine gives on top of its tables: for whoever knows it
// better, as the time-domain solver does. The zero value is the tables alone.
type Beside struct {
	Amps       float64 // mean current out of the stud [A]
	DPlusVolts float64 // voltage of D+ [V]
}

// Beside makes the following solves give so much on top of the tables. Predictions
// of a diagnosis are made without.
func (w *Worker) Beside(b Beside) { w.beside = b }

func (b Beside) put(p []float64) { p[machine.Beside], p[machine.DPlusBeside] = b.Amps, b.DPlusVolts }

// Timed solves the machine in the time domain at the last operating point. It says
// by how much that differs from the tables there, and how many times the tables'
// ripple the true one is. False where the machine does not deliver: there is nothing
// to solve then.
func (w *Worker) Timed() (b Beside, ripple float64, delivers bool, err error) {
	al := w.M.par.alternator
	x, p := w.alternatorX(), w.a.p[al:al+machine.NumParams]
	if w.cond.omega == 0 || w.M.alt.Ratio(x, p) < cutIn {
		return Beside{}, 1, false, nil
	}
	t, err := w.M.alt.Timed(x, p)
	if err != nil {
		return Beside{}, 1, false, err
	}
	b.Amps = t.Amps - w.M.alt.Ripple(x, p, machine.Mean, nil, nil)
	if w.M.Sys.Machine.DPlus != "" {
		// At the point D+ stands where the tables and what was put beside them have it.
		b.DPlusVolts = w.beside.DPlusVolts + t.DPlusVolts - (x[machine.DPlus] - x[machine.Case])
	}
	ripple = 1
	if rms := w.M.alt.Ripple(x, p, machine.ACRms, nil, nil); rms > 0 {
		ripple = t.ACRms / rms
	}
	return b, ripple, true, nil
}
