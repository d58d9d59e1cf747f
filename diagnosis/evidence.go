package diagnosis

import (
	"math"

	"chargewright/question"
)

// ceiling is the log evidence of a fit that met every value that is not bad. One that is
// may be a slip of anything within the spread of its prediction.
func (f *fitter) ceiling(out *fit, data []datum) float64 {
	return f.logMet(out, data, func(i int) float64 { return out.variance(f.rows[i]) })
}

// logMet is the log evidence of a fit but for its misfit; more is the variance
// that a value taken as wrong has beside its own.
func (f *fitter) logMet(out *fit, data []datum, more func(i int) float64) float64 {
	eps := f.bel.prior.Settings.Epsilon
	n := len(out.rows)
	le := 0.0
	for i := range out.measured {
		le -= math.Log(out.m[i*n+i])
	}
	for i := range data {
		if out.bad.has(i) {
			le += data[i].logWrong(eps, f.h0[i], math.Hypot(data[i].s, math.Sqrt(more(i))))
		} else {
			le += data[i].logMet(eps)
		}
	}
	return le
}

// logMet is the log density of a value that is right and met exactly.
func (d *datum) logMet(eps float64) float64 {
	le := math.Log1p(-eps)
	if d.how == question.Measured {
		le += -math.Log(d.s) - halfLog2Pi
	}
	return le
}

// evidence integrates the Gaussian around the fit and leaves each value out in
// turn.
func (f *fitter) evidence(out *fit, data []datum) {
	n := len(out.rows)
	out.logEv = f.ceiling(out, data) - out.phi
	inv := cholInverseDiag(out.m, n)
	out.inv = inv
	out.loo = make([]float64, n)
	for i, di := range out.rows[:out.measured] {
		v := 1 / inv[i]
		e := out.b[i] * v
		out.loo[i] = -e*e/(2*v) - math.Log(v)/2 - math.Log(data[di].s) - halfLog2Pi
	}
	f.sided(out, data)
}

const halfLog2Pi = 0.9189385332046727

// variance is the posterior variance of a quantity whose derivative with
// respect to z is g (unscaled): |g|² - (Jg)ᵀ M⁻¹ (Jg).
func (f *fit) variance(g []float64) float64 {
	n := len(f.j)
	q := make([]float64, n)
	for i, row := range f.j {
		q[i] = dot(row, g)
	}
	c := append([]float64(nil), q...)
	cholSolve(f.m, n, c)
	return math.Max(0, dot(g, g)-dot(q, c))
}

// logWrongOf is the log density of a row's value being wrong, given the others:
// its leave-one-out prediction says what a slip would read.
func (f *fit) logWrongOf(row int, d *datum, eps float64) float64 {
	v := 1 / f.inv[row]
	h := d.y - d.s*f.b[row]*v
	return d.logWrong(eps, h, d.s*math.Sqrt(v))
}
