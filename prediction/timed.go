package prediction

import "chargewright/machine"

// Beside is what a machine gives on top of its tables: for whoever knows it
// better, as the time-domain solver does. The zero value is the tables alone.
type Beside struct {
	Amps       float64 // mean current out of the stud [A]
	DPlusVolts float64 // voltage of D+ [V]
	Ripple     float64 // times the tables' ripple current; 0 = once
}

// Beside makes the following solves give so much on top of the tables, machine by
// machine. Predictions of a diagnosis are made without.
func (w *Worker) Beside(list ...Beside) {
	w.beside = [maxMachines]Beside{}
	copy(w.beside[:], list)
	for i := range w.M.gens { // assembling leaves these parameters alone
		p := w.machineParams(&w.M.gens[i])
		p[machine.Beside], p[machine.DPlusBeside] = w.beside[i].Amps, w.beside[i].DPlusVolts
	}
}

// timesRipple is what a machine's ripple is times the tables'. Where derivatives are
// asked for nothing stands beside the tables.
func (w *Worker) timesRipple(g *generator) float64 {
	for i := range w.M.gens {
		if &w.M.gens[i] == g && w.beside[i].Ripple > 0 {
			return w.beside[i].Ripple
		}
	}
	return 1
}

// Timed solves every machine in the time domain at the last operating point and says
// by how much that differs from the tables there. False where none delivers: there
// is nothing to solve then.
func (w *Worker) Timed() (list []Beside, delivers bool, err error) {
	list = make([]Beside, len(w.M.gens))
	for i := range w.M.gens {
		g := &w.M.gens[i]
		x, p := w.alternatorX(g), w.machineParams(g)
		if w.cond.omega == 0 || g.alt.Ratio(x, p) < cutIn {
			continue
		}
		t, err := g.alt.Timed(x, p)
		if err != nil {
			return nil, false, err
		}
		delivers = true
		list[i].Amps = t.Amps - g.alt.Ripple(x, p, machine.Mean, nil, nil)
		if g.sys.Machine.DPlus != "" {
			// At the point D+ stands where the tables and what was put beside them have it.
			list[i].DPlusVolts = w.beside[i].DPlusVolts + t.DPlusVolts - (x[machine.DPlus] - x[machine.Case])
		}
		if rms := g.alt.Ripple(x, p, machine.ACRms, nil, nil); rms > 0 {
			list[i].Ripple = t.ACRms / rms
		}
	}
	return list, delivers, nil
}
