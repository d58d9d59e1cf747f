package diagnosis

import (
	"math"
	"slices"

	"chargewright/prediction"
	"chargewright/question"
)

// fit is the posterior of the free parameters under one magnitude component
// and one set of values taken as wrong: a Gaussian around z.
type fit struct {
	comp      prediction.Component
	logWeight float64
	blank     int    // of a fit that knows nothing: its place among those of its hypothesis, from 1
	bad       wrongs // bit per datum taken as wrong
	z         []float64
	n         int         // data it was fitted on
	was       float64     // logEv on those
	cut       bool        // given up: it could not have counted; logEv is what it might have reached
	led       bool        // starts where one fault of the pair ended
	h         []float64   // predicted values at z, all data
	g         [][]float64 // their derivatives
	doubt     wrongs      // later data that are likelier wrong than right, seen from here
	logEv     float64
	phi       float64
	rows      []int       // datum of each row, those measured first
	measured  int         // how many those are
	let       float64     // what the objective has for one-sided values beyond what the step's model has
	e         []float64   // scaled residuals at z = 0, by rows; 0 where one has no say
	j         [][]float64 // scaled rows dh/dz / s
	m         []float64   // Cholesky factor of I + J Jᵀ
	b         []float64   // M⁻¹ (r + J z)
	loo       []float64   // log p(value | the others), per row
	inv       []float64   // diagonal of M⁻¹
	regime    string
}

// fitter is one goroutine's memory for fits.
type fitter struct {
	bel    *Belief
	w      *prediction.Worker
	h      *Hyp
	heard  float64 // log of prior and looks of all that its evidence is for
	work   Work
	newton int       // the worker's count when it was borrowed
	h0     []float64 // predicted values, all data
	rows   [][]float64
	h1     []float64 // the same, before a trial step
	old    [][]float64

	keeps  bool  // forecasts are kept with their derivatives
	perm   []int // data in the order of their setups
	part   []int // those of one operating point
	reads  []value
	permOf *datum
	limit  limit // that a trial step must stay under
	steps  int   // limit of a fit
	dims   int   // length of the model's z; for every reading what drifts follows
	drifts []prediction.Drift
	floor  float64 // log of prior times evidence under which a branch is not worth a fit
	own    float64 // the best that this hypothesis has reached, weight times evidence
	first  *fit    // what came of another start: the fit is wanted if it comes to more
}

func newFitter(b *Belief) *fitter {
	f := &fitter{bel: b, w: b.prior.Model.Borrow(), steps: maxSteps, limit: noLimit, floor: math.Inf(-1), own: math.Inf(-1), dims: b.prior.Model.Dims()}
	f.w.Rough(true)
	f.newton = f.w.Work().Newton
	if !b.prior.Settings.NoDrift {
		f.drifts = b.prior.Model.Drifts()
	}
	return f
}

// width is the length of a fit's z: the model's figures, then what drifts, for
// every reading its own.
func (f *fitter) width() int { return f.dims + len(f.drifts)*len(f.bel.Readings) }

// read predicts a value of a reading at the last solve and its derivatives. What
// drifts acts as it does in the model, in a straight line: z holds how far it
// went at that reading.
func (f *fitter) read(p *prediction.Probe, reading int, z, row []float64) float64 {
	return f.drifting(f.w.Read(p, row[:f.dims]), reading, z, row)
}

// readBoth is read of two values, which share most of the work.
func (f *fitter) readBoth(p, q value, z []float64) (float64, float64) {
	a, b := f.w.ReadBoth(p.probe, q.probe, p.row[:f.dims], q.row[:f.dims])
	return f.drifting(a, p.reading, z, p.row), f.drifting(b, q.reading, z, q.row)
}

// value is one to be read at the last solve: of a reading, -1 for one not taken, where
// its derivatives go, and where it goes.
type value struct {
	probe   *prediction.Probe
	reading int
	row     []float64
	at      *float64
}

// readAll reads values at the last solve, two by two.
func (f *fitter) readAll(all []value, z []float64) {
	for ; len(all) > 1; all = all[2:] {
		*all[0].at, *all[1].at = f.readBoth(all[0], all[1], z)
	}
	for _, v := range all {
		*v.at = f.read(v.probe, v.reading, z, v.row)
	}
}

// drifting is a value h of the model with what drifted at its reading.
func (f *fitter) drifting(h float64, reading int, z, row []float64) float64 {
	clear(row[f.dims:])
	if reading < 0 {
		return h
	}
	f.drift(reading, row)
	at := f.dims + reading*len(f.drifts)
	for k := range f.drifts {
		h += row[at+k] * z[at+k]
	}
	return h
}

// drift fills in a row's derivatives with respect to what drifts.
func (f *fitter) drift(reading int, row []float64) {
	at := f.dims + reading*len(f.drifts)
	for k, d := range f.drifts {
		row[at+k] = d.SD * row[d.Coord]
	}
}

// done gives the worker back.
func (f *fitter) done() { f.bel.prior.Model.Return(f.w) }

// spent is the work so far.
func (f *fitter) spent() Work {
	f.work.Newton = f.w.Work().Newton - f.newton
	return f.work
}

func (f *fitter) grow(n int) {
	for len(f.rows) < n {
		f.rows = append(f.rows, make([]float64, f.width()))
		f.old = append(f.old, make([]float64, f.width()))
		f.h0, f.h1 = append(f.h0, 0), append(f.h1, 0)
	}
}

// residual is (y-h)/s, 0 for a value inside its interval.
func residual(d *datum, h float64) float64 {
	if d.how == question.Measured {
		return (d.y - h) / d.s
	}
	switch {
	case h < d.lo:
		return (d.lo - h) / d.s
	case h > d.hi:
		return (d.hi - h) / d.s
	}
	return 0
}

func (f *fitter) objective(z []float64, data []datum, bad wrongs) float64 {
	phi := 0.0
	for _, v := range z {
		phi += v * v / 2
	}
	for i := range data {
		if !bad.has(i) {
			r := residual(&data[i], f.h0[i])
			phi += r * r / 2
		}
	}
	return phi
}

// Limits of a fit (inference measured on a prototype; docs/models/inference.md).
const (
	maxSteps     = 18
	enough       = 1e-2 // predicted decrease [nat] that ends a fit
	longestStep  = 5.0  // largest |dz|
	shrink       = 0.4
	maxShrinks   = 5
	patience     = 4    // steps after which a fit that is still
	stillFalling = 0.25 // share of a step's fall with which it is not yet hopeless
)

// hopeless is how far [nat] from n values a fit is left to the branches with wrong
// ones: readings of the fitted vehicle leave half a nat a value.
func hopeless(n int) float64 { return 30 + float64(n) }

// run fits z to the data that are not bad: Gauss-Newton in the space of the
// data, which is smaller than that of the parameters.
func (f *fitter) run(c weighted, bad wrongs, from start, data []datum) (fit, bool) {
	f.work.Fits++
	f.w.Again()
	out := fit{comp: c.comp, logWeight: c.logWeight, blank: c.blank, bad: bad, z: make([]float64, f.width()), n: len(data)}
	copy(out.z, from.at.z)
	if !f.set(&out, from, data) {
		return out, false
	}
	phi := f.objective(out.z, data, bad)
	fell := math.Inf(1) // share by which the last step brought the objective down
	for step := 0; ; step++ {
		if !f.linearise(&out, data) {
			return out, false
		}
		dz, dec := f.direction(&out)
		if reach := f.reach(&out, data, phi, dec); reach < f.least()-f.margin(step, bad) {
			out.cut, out.phi, out.logEv = true, phi, reach-out.logWeight
			return out, true
		}
		if f.first != nil && step > 0 && f.first.meets(&out, dz, phi-dec) {
			return *f.first, true
		}
		if dec < enough || step == f.steps || step >= patience && phi > hopeless(len(data)) && fell < stillFalling {
			break
		}
		next, ok := f.line(&out, dz, phi, data)
		if !ok {
			break
		}
		fell = 1 - next/phi
		phi = next
	}
	out.phi = phi
	f.evidence(&out, data)
	out.was = out.logEv
	f.keepRows(&out, len(data))
	out.regime = string(f.w.Sheet().Regime)
	return out, true
}

// meets says whether a step from another start ends where this fit stands, no lower.
func (f *fit) meets(out *fit, dz []float64, phi float64) bool {
	apart := 0.0
	for i, d := range dz {
		off := out.z[i] + d - f.z[i]
		apart += off * off
	}
	return !f.cut && apart < sameTop && phi > f.phi-enough
}

// sameTop is the square of the distance, in spreads, at which two fits are taken for one.
const sameTop = 0.1

// set predicts all data where a fit starts. What is known there already is not
// solved again.
func (f *fitter) set(out *fit, from start, data []datum) bool {
	f.grow(len(data))
	h := from.at.h
	if allBad(out.bad, data) && !isZero(out.z) {
		// Nothing speaks: the prior comes back.
		clear(out.z)
		h = nil
	}
	f.takeUp(h, from.at.g)
	if len(h) == 0 && isZero(out.z) && f.recall(out.blank, data, 0) {
		return true
	}
	if f.evaluate(out.comp, out.z, data, len(h)) == nil {
		return true
	}
	clear(out.z)
	return f.evaluate(out.comp, out.z, data, 0) == nil
}

// takeUp takes up predictions and their derivatives that a fit has kept.
func (f *fitter) takeUp(h []float64, g [][]float64) {
	copy(f.h0, h)
	for i := range h {
		clear(f.rows[i][copy(f.rows[i], g[i]):])
	}
}

// keepRows keeps in a fit what the fitter has just predicted.
func (f *fitter) keepRows(out *fit, n int) {
	out.h = slices.Clone(f.h0[:n])
	all := make([]float64, n*f.width())
	out.g = make([][]float64, n)
	for i := range n {
		out.g[i], all = all[:len(f.rows[i]):len(f.rows[i])], all[len(f.rows[i]):]
		copy(out.g[i], f.rows[i])
	}
}

// reach is the log of weight times evidence that a fit would come to where its linear
// model ends, with some of what stays there forgiven. Where that cannot count the rest
// of the way is not gone.
func (f *fitter) reach(out *fit, data []datum, phi, dec float64) float64 {
	return out.logWeight + f.ceiling(out, data) - stays*math.Max(0, phi-dec)
}

// margin is what a fit may gain beyond reach [nat]. Before its first step reach knows little; it is
// asked all the same of branches with wrong values and of pairs, of which most lead nowhere, but not of
// what one fault makes of all that was read from its first start: there the first step may go anywhere.
func (f *fitter) margin(step int, bad wrongs) float64 {
	switch {
	case step > 0:
		return vainMargin
	case bad.none() && len(f.h.Faults) < 2 && f.first == nil:
		return math.Inf(1)
	}
	return vainAtOnce
}

// stays is the part of what the linear model leaves that counts against a fit, and
// vainMargin and vainAtOnce [nat] what it may gain beyond that (docs/decisions/035, 043, 045).
const (
	stays      = 0.85
	vainMargin = 1.5
	vainAtOnce = 20
)

func allBad(bad wrongs, data []datum) bool {
	for i := range data {
		if !bad.has(i) {
			return false
		}
	}
	return true
}

// linearise builds J, M and b at out.z from the last evaluation.
func (f *fitter) linearise(out *fit, data []datum) bool {
	out.rows, out.measured = rowsOf(out, data)
	old := out.j
	out.j, out.let = out.j[:0], 0
	var e []float64
	var sides []side
	for n, i := range out.rows {
		d := &data[i]
		var row []float64
		if n < len(old) {
			row = old[n] // of the step before
		} else {
			row = make([]float64, len(out.z))
		}
		dot := 0.0
		for k, v := range f.rows[i] {
			row[k] = v / d.s
			dot += row[k] * out.z[k]
		}
		if n >= out.measured {
			sides = append(sides, sideOf(d, f.h0[i], row, dot))
		}
		out.j = append(out.j, row)
		e = append(e, residual(d, f.h0[i])+dot)
	}
	return f.settle(out, e, sides)
}

// factor makes M and b of J and e.
func (f *fitter) factor(out *fit, e []float64) bool {
	n := len(e)
	out.m = make([]float64, n*n)
	for i := range n {
		for k := 0; k <= i; k++ {
			out.m[i*n+k] = dot(out.j[i], out.j[k])
		}
		out.m[i*n+i]++
	}
	if !cholesky(out.m, n) {
		return false
	}
	out.b = slices.Clone(e)
	cholSolve(out.m, n, out.b)
	return true
}

// direction returns the Gauss-Newton step and half its predicted decrease.
func (f *fitter) direction(out *fit) (dz []float64, dec float64) {
	dz = make([]float64, len(out.z))
	for i, row := range out.j {
		for k, v := range row {
			dz[k] += out.b[i] * v
		}
	}
	size := 0.0
	for k := range dz {
		dz[k] -= out.z[k]
		size += dz[k] * dz[k]
	}
	// The decrease of the quadratic model is dzᵀ H dz / 2, H = I + JᵀJ.
	dec = size
	for _, row := range out.j {
		s := dot(row, dz)
		dec += s * s
	}
	if l := math.Sqrt(size); l > longestStep {
		for k := range dz {
			dz[k] *= longestStep / l
		}
	}
	return dz, dec/2 + out.let
}

// line moves z along dz as far as the objective falls.
func (f *fitter) line(out *fit, dz []float64, phi float64, data []datum) (float64, bool) {
	trial := make([]float64, len(dz))
	t := 1.0
	f.swap()
	for range maxShrinks {
		for k := range dz {
			trial[k] = out.z[k] + t*dz[k]
		}
		f.limit = limit{phi, out.bad}
		err := f.evaluate(out.comp, trial, data, 0)
		f.limit = noLimit
		if err == nil {
			if p := f.objective(trial, data, out.bad); p < phi {
				copy(out.z, trial)
				return p, true
			}
		}
		t *= shrink
	}
	f.swap()
	return phi, false
}

// swap puts the last predictions aside, or back.
func (f *fitter) swap() {
	f.h0, f.h1 = f.h1, f.h0
	f.rows, f.old = f.old, f.rows
}
