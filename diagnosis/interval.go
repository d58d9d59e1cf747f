package diagnosis

import (
	"math"

	"chargewright/question"
)

// A value of which only a side is known (more than the meter shows, less than a limit)
// has a say while the fit lies on the wrong side of it, and then only until the edge is
// reached: pulled to the edge and held there it would count as a measured value, exact
// to the meter's last digit, which it is not (docs/decisions/046).

// rowsOf lists the data that count, those with an interval last: of M's Cholesky factor
// the first rows are then that of the measured values alone.
func rowsOf(out *fit, data []datum) (rows []int, measured int) {
	for _, sided := range []bool{false, true} {
		for i := range data {
			if !out.bad.has(i) && (data[i].how != question.Measured) == sided {
				rows = append(rows, i)
			}
		}
		if !sided {
			measured = len(rows)
		}
	}
	return rows, measured
}

// side is a one-sided value at a linearisation, in units of its uncertainty.
type side struct {
	row    []float64 // its row of J while it has a say
	at     float64   // row times z
	lo, hi float64   // its edges, from what is predicted
	held   int       // -1 at the lower edge, 1 at the upper, 0 where it has no say
}

func sideOf(d *datum, h float64, row []float64, at float64) side {
	x := side{row: row, at: at, lo: (d.lo - h) / d.s, hi: (d.hi - h) / d.s}
	x.held = x.beyond(0)
	return x
}

// beyond says at which edge a prediction that moves by so much comes to lie outside.
func (x *side) beyond(move float64) int {
	switch {
	case x.lo > move:
		return -1
	case x.hi < move:
		return 1
	}
	return 0
}

// edge is how far it is to the edge that holds it.
func (x *side) edge() float64 {
	if x.held < 0 {
		return x.lo
	}
	return x.hi
}

// mostTurns ends the search for those that have a say: two or three are usual, and a set
// that goes round in a circle is taken as it stands.
const mostTurns = 8

// settle makes M and b for the step that the one-sided values allow: one has a say where
// the others alone would end beyond its edge, and none where it would be held back (the
// active set of a quadratic programme with soft bounds).
func (f *fitter) settle(out *fit, e []float64, sides []side) bool {
	for turn := 0; ; turn++ {
		for k := range sides {
			x, i := &sides[k], out.measured+k
			if out.j[i], e[i] = x.row, x.edge()+x.at; x.held == 0 {
				out.j[i], e[i] = make([]float64, len(out.z)), 0
			}
		}
		if !f.factor(out, e) {
			return false
		}
		if turn == mostTurns || !out.turn(sides) {
			break
		}
	}
	for k := range sides {
		x := &sides[k]
		if now := x.beyond(0); now != 0 && x.held == 0 {
			r := math.Max(x.lo, -x.hi)
			out.let += r * r / 2
		}
	}
	return true
}

// turn lets go and takes hold after a trial of a step, and says whether it did either.
func (f *fit) turn(sides []side) bool {
	if len(sides) == 0 {
		return false
	}
	z := make([]float64, len(f.z)) // where the step leads
	for i, row := range f.j {
		for k, v := range row {
			z[k] += f.b[i] * v
		}
	}
	turned := false
	for k := range sides {
		x := &sides[k]
		was := x.held
		if was == 0 {
			x.held = x.beyond(dot(x.row, z) - x.at)
		} else if b := f.b[f.measured+k]; b*float64(was) > 0 {
			x.held = 0 // b is what is left of its residual: on the other side by now
		}
		turned = turned || x.held != was
	}
	return turned
}

// sided adds to the evidence what the one-sided values make of it: the chance that what
// the others predict lies on their side, for the density that pulled the fit to the edge.
func (f *fitter) sided(out *fit, data []datum) {
	for i := out.measured; i < len(out.rows); i++ {
		d := &data[out.rows[i]]
		v := 1 / out.inv[i]
		e := out.b[i] * v
		mean, sd := f.h0[out.rows[i]], math.Hypot(d.s, math.Sqrt(out.variance(f.rows[out.rows[i]])))
		if e != 0 { // active: the others alone predict beyond the edge
			edge := d.lo
			if e < 0 {
				edge = d.hi
			}
			mean, sd = edge-d.s*e, d.s*math.Sqrt(v)
			out.logEv += e * e / (2 * v)
		}
		out.loo[i] = math.Log(d.density(mean, sd))
		out.logEv += out.loo[i]
	}
}
