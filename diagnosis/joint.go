package diagnosis

import (
	"math"
	"slices"
	"strings"
	"sync/atomic"

	"chargewright/prediction"
	"chargewright/question"
)

// Joint is what one fit says the values of a question will be together: a
// normal of the values, reading noise not included.
type Joint struct {
	Hyp    int
	Fit    int       // of the hypothesis
	Weight float64   // share of the job: hypothesis times fit
	Mean   []float64 // per numeric value
	Cov    []float64 // row-major

	rows []float32 // derivatives of each value, of what is remembered
}

// Forecast is the joint predictive of every question under every hypothesis
// that has at least the share least. Questions of one setup share a solve.
// The outer index is the question's; a question that the model refuses has nil.
func (b *Belief) Forecast(asked []*prediction.Asked, least float64) [][]Joint {
	if len(b.data) == 0 && len(b.repairs) == 0 {
		return b.priorForecast(asked, least)
	}
	slots, asSound := b.forecastSlots(least)
	like := b.footing(asked)
	res := make([][]*Joint, len(slots))
	n := max(1, b.prior.Settings.Workers)
	works := make([]Work, n)
	var taken atomic.Int64
	parallel(n, func(g int) {
		f := newFitter(b)
		defer f.done()
		f.w.Like(like)
		for s := int(taken.Add(1)) - 1; s < len(slots); s = int(taken.Add(1)) - 1 {
			res[s] = f.forecast(slots[s].hyp, slots[s].fit, asked)
		}
		works[g] = f.spent()
	})
	for _, w := range works {
		b.Work.Add(w)
	}
	out := make([][]Joint, len(asked))
	for s := range slots {
		collect(out, res[s], slots[s].hyp, 1)
	}
	for _, h := range asSound {
		for s := range slots {
			if slots[s].hyp == 0 {
				collect(out, res[s], h, b.post[h]/b.post[0])
			}
		}
	}
	return out
}

// footing are the operating points of the sound vehicle as the readings have it: all
// fits of a job have met the same readings, and stand nearer to it than to the middle of
// the prior. Where two machines share a line that saves 30 % of the iterations, elsewhere
// 5 to 10 for a vehicle more [measured], and is not done.
func (b *Belief) footing(asked []*prediction.Asked) prediction.Footing {
	if !b.prior.Model.Sys.Twin() {
		return nil
	}
	f := newFitter(b)
	defer f.done()
	if w := fitWeights(b.Hyps[0].Fits); len(w) > 0 {
		f.forecast(0, slices.Index(w, slices.Max(w)), asked)
	}
	b.Work.Add(f.spent())
	return f.w.Footing()
}

// slot is one fit to forecast.
type slot struct{ hyp, fit int }

// forecastSlots lists the fits that count; asSound are the hypotheses that show
// nothing now, which forecast what the sound vehicle does.
func (b *Belief) forecastSlots(least float64) (slots []slot, asSound []int) {
	for i := range b.Hyps {
		if b.Hyps[i].sharesSound(b) {
			if b.post[i] >= least {
				asSound = append(asSound, i)
			}
			continue
		}
		if b.post[i] < least && (i != 0 || b.post[0] == 0) {
			continue
		}
		for k, w := range fitWeights(b.Hyps[i].Fits) {
			if w >= lightest {
				slots = append(slots, slot{i, k})
			}
		}
	}
	return slots, asSound
}

// lightest is the share of its hypothesis under which a fit is not forecast.
const lightest = 0.03

// collect adds one fit's forecasts under a hypothesis, its weight scaled.
func collect(out [][]Joint, from []*Joint, hyp int, scale float64) {
	for q, j := range from {
		if j != nil {
			twin := *j
			twin.Hyp, twin.Weight = hyp, j.Weight*scale
			out[q] = append(out[q], twin)
		}
	}
}

// forecast predicts every question under one fit.
func (f *fitter) forecast(h, k int, asked []*prediction.Asked) []*Joint {
	b := f.bel
	hy := &b.Hyps[h]
	ft := &hy.Fits[k]
	weight := b.post[h] * fitWeights(hy.Fits)[k]
	out := make([]*Joint, len(asked))
	f.w.Begin()
	f.w.Hold(b.physical(hy, question.CannotTell, len(b.repairs)), ft.comp, ft.z[:f.dims])
	for order := bySetup(asked); len(order) > 0; {
		n := 1
		for n < len(order) && asked[order[n]].Key == asked[order[0]].Key {
			n++
		}
		f.forecastAt(ft, asked, f.operating(asked, order[:n]), func(q int, j *Joint) {
			j.Hyp, j.Fit, j.Weight = h, k, weight
			if finite(j) {
				out[q] = j
			}
		})
		order = order[n:]
	}
	return out
}

// operating solves for questions of one setup; it returns those that can be read.
func (f *fitter) operating(asked []*prediction.Asked, of []int) []int {
	live := func(q int) bool { return !asked[q].Dead() }
	if at := slices.IndexFunc(of, live); at >= 0 { // one that is live serves those that are not
		f.work.Solves++
		if f.w.Solve(asked[of[at]]) == nil {
			return of
		}
		if of = slices.DeleteFunc(slices.Clone(of), live); len(of) == 0 {
			return nil
		}
	}
	f.work.Solves++
	if f.w.Solve(asked[of[0]]) != nil {
		return nil
	}
	return of
}

// forecastAt reads all values of some questions at the last solve.
func (f *fitter) forecastAt(ft *fit, asked []*prediction.Asked, of []int, keep func(q int, j *Joint)) {
	f.reads = f.reads[:0]
	all := make([]*Joint, len(of))
	for k, q := range of {
		a := asked[q]
		all[k] = &Joint{Mean: make([]float64, len(a.Probes))}
		f.grow(len(f.reads) + len(a.Probes))
		for v := range a.Probes {
			f.reads = append(f.reads, value{&a.Probes[v], -1, f.rows[len(f.reads)], &all[k].Mean[v]})
		}
	}
	f.readAll(f.reads, ft.z)
	at, rows := 0, make([][]float64, len(f.reads))
	for k, q := range of {
		j, n := all[k], len(asked[q].Probes)
		for v := range n {
			rows[v] = f.rows[at+v][:f.dims] // no reading's drift is in them
		}
		j.Cov = f.covariance(ft, rows[:n])
		if f.keeps {
			j.rows = packed(f.rows[at:at+n], f.dims)
		}
		at += n
		keep(q, j)
	}
}

// bySetup lists the questions that have something to predict, those of one setup
// together, so that they share its solve.
func bySetup(asked []*prediction.Asked) []int {
	var order []int
	for q, a := range asked {
		if a != nil && len(a.Probes) > 0 {
			order = append(order, q)
		}
	}
	slices.SortStableFunc(order, func(x, y int) int { return strings.Compare(asked[x].Key, asked[y].Key) })
	return order
}

func finite(j *Joint) bool {
	for _, v := range append(j.Mean, j.Cov...) {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// covariance is that of values not yet taken: of what the fit leaves open and
// of what will have drifted by then.
func (f *fitter) covariance(ft *fit, rows [][]float64) []float64 {
	n := len(rows)
	out := ft.covariance(rows)
	for a := range n {
		for k := range n {
			out[a*n+k] += f.drifted(rows[a], rows[k])
		}
	}
	return out
}

// drifted is the covariance of two values of one reading by what drifts.
func (f *fitter) drifted(a, b []float64) float64 {
	sum := 0.0
	for _, d := range f.drifts {
		sum += d.SD * d.SD * a[d.Coord] * b[d.Coord]
	}
	return sum
}

// covariance is G (I - Jᵀ M⁻¹ J) Gᵀ for the rows of G.
func (f *fit) covariance(g [][]float64) []float64 {
	n, m := len(g), len(f.j)
	q := make([][]float64, n)
	c := make([][]float64, n)
	for a := range g {
		q[a] = make([]float64, m)
		for i, row := range f.j {
			q[a][i] = dot(row, g[a])
		}
		c[a] = append([]float64(nil), q[a]...)
		cholSolve(f.m, m, c[a])
	}
	out := make([]float64, n*n)
	for a := range n {
		for k := range n {
			out[a*n+k] = dot(g[a], g[k]) - dot(q[a], c[k])
		}
		out[a*n+a] = math.Max(0, out[a*n+a])
	}
	return out
}
