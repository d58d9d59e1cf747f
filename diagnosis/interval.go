package diagnosis

import (
	"math"
	"slices"

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
	out.e = e
	for k := range sides {
		x := &sides[k]
		now, then := math.Max(0, math.Max(x.lo, -x.hi)), 0.0
		if x.held != 0 {
			then = x.edge()
		}
		out.let += (now*now - then*then) / 2
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

// sided makes of the evidence of all rows that of the measured ones, and adds the chance
// of the sides, given those. Readings of one quantity do not count as so many vehicles: what
// each leaves of the others' predictions is a normal cut off at its edge, and goes on as
// the normal with its mean and variance.
func (f *fitter) sided(out *fit, data []datum) {
	n := len(out.rows) - out.measured
	if n == 0 {
		return
	}
	m := out.measured
	b := slices.Clone(out.e[:m])
	cholSolve(out.m, len(out.rows), b)
	out.logEv += (dot(out.e, out.b) - dot(out.e[:m], b)) / 2
	x := f.ahead(out, data, b)
	all := x.chance(-1)
	for i := range n {
		out.loo[m+i] = all - x.chance(i)
	}
	out.logEv += all
}

// bounds are one-sided values as the measured ones predict them, in units of each one's
// uncertainty from what the fit predicts.
type bounds struct {
	lo, hi, mean []float64
	cov          []float64 // with the meters' noise
}

// ahead predicts the one-sided values from the measured ones alone, whose weights b are.
func (f *fitter) ahead(out *fit, data []datum, b []float64) *bounds {
	m, n := out.measured, len(out.rows)-out.measured
	move := make([]float64, len(out.z)) // from the fit to where the measured ones alone lead
	for i, row := range out.j[:m] {
		for k, v := range row {
			move[k] += b[i] * v
		}
	}
	for k := range move {
		move[k] -= out.z[k]
	}
	x := &bounds{lo: make([]float64, n), hi: make([]float64, n), mean: make([]float64, n), cov: make([]float64, n*n)}
	rows, across := make([][]float64, n), make([][]float64, n)
	for i := range n {
		d, at := &data[out.rows[m+i]], out.rows[m+i]
		x.lo[i], x.hi[i] = (d.lo-f.h0[at])/d.s, (d.hi-f.h0[at])/d.s
		rows[i] = make([]float64, len(out.z))
		for k, v := range f.rows[at] {
			rows[i][k] = v / d.s
		}
		x.mean[i] = dot(rows[i], move)
		across[i] = make([]float64, m)
		for k, row := range out.j[:m] {
			across[i][k] = dot(row, rows[i])
		}
	}
	for i := range n {
		c := slices.Clone(across[i])
		cholSolve(out.m, len(out.rows), c)
		for k := range n {
			x.cov[i*n+k] = dot(rows[i], rows[k]) - dot(c, across[k])
		}
		x.cov[i*n+i] = math.Max(0, x.cov[i*n+i]) + 1
	}
	return x
}

// chance is the log of the probability of all sides but one; -1 leaves none out.
func (x *bounds) chance(but int) (logp float64) {
	n := len(x.lo)
	mean, cov := slices.Clone(x.mean), slices.Clone(x.cov)
	for i := range n {
		if i == but {
			continue
		}
		sd := math.Sqrt(cov[i*n+i])
		p, by, left := cutOff((x.lo[i]-mean[i])/sd, (x.hi[i]-mean[i])/sd)
		logp += p
		gain := make([]float64, n)
		for k := range n {
			gain[k] = cov[k*n+i] / (sd * sd)
		}
		for k := range n {
			mean[k] += gain[k] * sd * by
			for l := range n {
				cov[k*n+l] -= gain[k] * gain[l] * sd * sd * (1 - left)
			}
		}
	}
	return logp
}
