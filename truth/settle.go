package truth

import (
	"fmt"
	"math"

	"chargewright/question"
)

// modes is how many ripple shapes a run keeps. The vehicle is resistive but for
// the rectifier and the battery's double layer, so that two shapes carry all but
// a thousandth of every point's ripple; the third is for safety.
const modes = 3

// Run is one settled run of a vehicle in a setup: enough to answer any question
// of volts, amps and AC volts.
type Run struct {
	Standing string           // the setup in words
	Engine   float64          // as it was held [rad/s]
	Volts    []float64        // mean, by point of the system [V]
	Ripple   [][modes]float64 // by point: amplitudes of shapes of 1 V rms that are independent [V]
	Amps     []float64        // mean, by element of the system [A]
	Field    float64          // mean field current [A]
	Output   float64          // mean output current of the machine [A]
	Duty     float64          // mean, as the law has it
	Settle   float64          // [s]
	Drift    float64          // between the last two windows, worst of Settled's measure
}

// Settled averages a run's raw file over whole turns of the machine, at all
// points at once. Run.Drift above 1 means that it had not settled.
func (n *Netlist) Settled(raw []byte, settle float64) (Run, error) {
	w, err := parseRaw(raw)
	if err != nil {
		return Run{}, err
	}
	cuts, err := n.windows(w)
	if err != nil {
		return Run{}, err
	}
	cols := make([][]float64, len(n.points))
	for i, p := range n.points {
		if cols[i], err = w.get(p); err != nil {
			return Run{}, err
		}
	}
	r := Run{Standing: n.Standing, Engine: n.Engine, Settle: settle}
	first, last := means(cuts[0], cols), means(cuts[1], cols)
	r.Volts = last
	r.Amps = n.amps(last)
	r.Drift = drift(first, last, n.amps(first), r.Amps)
	r.Ripple = shapes(cuts[1], cols, last)
	for name, to := range map[string]*float64{"i(vxfield)": &r.Field, "i(vxout)": &r.Output, "xduty": &r.Duty} {
		col, err := w.get(name)
		if err != nil {
			return Run{}, err
		}
		*to = cuts[1].mean(col)
	}
	return r, nil
}

func means(c cut, cols [][]float64) []float64 {
	out := make([]float64, len(cols))
	for i := range cols {
		out[i] = c.mean(cols[i])
	}
	return out
}

// amps are the currents through the elements, from their first to their second
// point. A mean of a linear element's current is that of its voltage.
func (n *Netlist) amps(volts []float64) []float64 {
	out := make([]float64, len(n.elems))
	for i, e := range n.elems {
		out[i] = (volts[n.index[e.From]] - volts[n.index[e.To]]) / n.ohms[i]
	}
	return out
}

// How far two windows may differ: a tenth of what the comparison with our model
// allows, so that settling takes no part in it.
const (
	driftVolts = 2e-3 // [V]
	driftAmps  = 0.01 // [A]
	driftShare = 1e-3
)

// drift is the largest difference over what is allowed.
func drift(v0, v1, i0, i1 []float64) float64 {
	worst := 0.0
	for k := range v0 {
		worst = max(worst, math.Abs(v1[k]-v0[k])/driftVolts)
	}
	for k := range i0 {
		worst = max(worst, math.Abs(i1[k]-i0[k])/(driftAmps+driftShare*math.Abs(i1[k])))
	}
	return worst
}

// windows finds the last two windows of whole turns.
func (n *Netlist) windows(w *waves) (out [2]cut, err error) {
	end := w.time[len(w.time)-1]
	edges := [3]float64{end - 2*n.window, end - n.window, end}
	if n.periods > 0 {
		late := make([]float64, len(w.time))
		if n.varies {
			if late, err = w.get("xlate"); err != nil {
				return out, err
			}
		}
		turns := func(k int) float64 { return n.hertz*w.time[k] - late[k] }
		last := len(w.time) - 1
		top := turns(last)
		for e := range 2 {
			want := top - float64((2-e)*n.periods)
			k := last
			for k > 0 && turns(k-1) > want {
				k--
			}
			if k == 0 {
				return out, fmt.Errorf("truth: %s: the belt lets the machine turn too slowly for two windows of %d turns", n.Standing, n.periods)
			}
			part := (want - turns(k-1)) / (turns(k) - turns(k-1))
			edges[e] = w.time[k-1] + part*(w.time[k]-w.time[k-1])
		}
	}
	for e := range out {
		if out[e], err = w.between(edges[e], edges[e+1]); err != nil {
			return out, err
		}
	}
	return out, nil
}

// shapes writes every point's ripple as a sum of a few independent shapes of
// 1 V rms: a Cholesky factor of the covariance, largest pivot first.
func shapes(c cut, cols [][]float64, mean []float64) [][modes]float64 {
	n := len(cols)
	l := make([][modes]float64, n)
	left := make([]float64, n) // variance not yet carried
	for i := range cols {
		left[i] = c.product(cols[i], cols[i], mean[i], mean[i])
	}
	for m := range modes {
		pivot := 0
		for i := range left {
			if left[i] > left[pivot] {
				pivot = i
			}
		}
		if left[pivot] < 1e-12 { // a microvolt
			break
		}
		root := math.Sqrt(left[pivot])
		for i := range cols {
			x := c.product(cols[i], cols[pivot], mean[i], mean[pivot])
			for k := range m {
				x -= l[i][k] * l[pivot][k]
			}
			l[i][m] = x / root
			left[i] = max(0, left[i]-l[i][m]*l[i][m])
		}
		left[pivot] = 0
	}
	return l
}

// answer answers an observable from the run.
func (r *Run) answer(n *numbering, o question.Observable) (float64, error) {
	switch o.Kind {
	case question.Volts, question.ACVolts:
		a, okA := n.point[o.Red]
		b, okB := n.point[o.Black]
		if !okA || !okB {
			return 0, fmt.Errorf("truth: no point %q or no point %q in the run", o.Red, o.Black)
		}
		if o.Kind == question.Volts {
			return r.Volts[a] - r.Volts[b], nil
		}
		sum := 0.0
		for m := range modes {
			d := r.Ripple[a][m] - r.Ripple[b][m]
			sum += d * d
		}
		return math.Sqrt(sum), nil
	case question.Amps:
		i, ok := n.elem[o.Through]
		if !ok {
			return 0, fmt.Errorf("truth: no joint, wire or load %q in the run", o.Through)
		}
		return r.Amps[i], nil
	case question.Speed:
		return r.Engine, nil
	}
	return 0, fmt.Errorf("truth: a run does not answer %q", o.Kind)
}

// numbering says where points and elements stand in a run.
type numbering struct{ point, elem map[string]int }

func numbered(points, elems []string) *numbering {
	n := &numbering{point: map[string]int{}, elem: map[string]int{}}
	for i, p := range points {
		n.point[p] = i
	}
	for i, e := range elems {
		n.elem[e] = i
	}
	return n
}
