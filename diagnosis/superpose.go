package diagnosis

import (
	"cmp"
	"math"
	"slices"

	"chargewright/question"
)

// effect is what one fault does to the readings, before any of them is weighed:
// the change against the sound vehicle and how it goes with the magnitude, both in
// the metric of what the sound vehicle leaves open.
type effect struct {
	hyp, comp int
	logWeight float64
	change    []float64
	slope     []float64
	raw       []float64 // the same before any metric, in the values' own units
	rawSlope  []float64
}

// effects are those of every single fault at the middle of the prior.
type effects struct {
	all     []effect
	rest    []float64 // what the sound vehicle leaves of the readings
	strange wrongs    // values that no fault comes near
}

// superposed lists the n pairs whose effects, added, come nearest to the
// readings: two faults seldom hide each other wholly, and to add is a thousand
// times quicker than to solve.
func (b *Belief) superposed(n int, eff *effects) []Hyp {
	effects, rest, strange := eff.all, eff.rest, eff.strange
	type scored struct {
		a, c  int
		score float64
	}
	var all []scored
	best := map[[2]int]int{} // pair of hypotheses -> place in all
	for a := range effects {
		for c := range a {
			ea, ec := &effects[a], &effects[c]
			if ea.hyp == ec.hyp || b.clash(b.Hyps[ea.hyp].Faults[0], b.Hyps[ec.hyp].Faults[0]) {
				continue
			}
			s := scored{a, c, b.pairPrior(&b.Hyps[ea.hyp], &b.Hyps[ec.hyp]) + ea.logWeight + ec.logWeight - added(rest, ea, ec)}
			key := pairKey(ea.hyp, ec.hyp)
			k, ok := best[key]
			switch {
			case !ok:
				best[key] = len(all)
				all = append(all, s)
			case s.score > all[k].score:
				all[k] = s
			}
		}
	}
	slices.SortStableFunc(all, func(x, y scored) int { return cmp.Compare(y.score, x.score) })
	var out []Hyp
	for _, s := range all[:min(n, len(all))] {
		h := b.pairOf(&effects[s.a], &effects[s.c])
		if !strange.none() {
			h.tries = []wrongs{strange}
		}
		out = append(out, h)
	}
	return out
}

// pairOf makes a pair that starts from the prior with the components that were
// added.
func (b *Belief) pairOf(x, y *effect) Hyp {
	if b.Hyps[x.hyp].Faults[0] > b.Hyps[y.hyp].Faults[0] {
		x, y = y, x
	}
	h := Hyp{
		Faults:   []int{b.Hyps[x.hyp].Faults[0], b.Hyps[y.hyp].Faults[0]},
		LogPrior: b.pairPrior(&b.Hyps[x.hyp], &b.Hyps[y.hyp]),
	}
	h.Fits = b.prior.blank(&h)
	// components runs through the second fault's components for each of the
	// first's.
	each := len(b.prior.components(&Hyp{Faults: h.Faults[1:]}))
	h.Fits[x.comp*each+y.comp].led = true
	return h
}

// effects predicts every single fault at the middle of the prior. Values that no
// fault comes near are left out, as wrong.
func (b *Belief) effects() *effects {
	f := newFitter(b)
	defer f.done()
	sound, ok := f.middle(&b.Hyps[0], weighted{blank: 1})
	if !ok {
		return &effects{}
	}
	var out []effect
	ones := []fit{sound}
	for i := range b.Hyps {
		h := &b.Hyps[i]
		if len(h.Faults) != 1 || h.Intermittent {
			continue
		}
		for k, c := range b.prior.components(h) {
			if one, ok := f.middle(h, c); ok {
				ones = append(ones, one)
				out = append(out, effect{hyp: i, comp: k, logWeight: c.logWeight})
			}
		}
	}
	b.Work.Add(f.spent())
	sound.bad = b.beyondAll(ones)
	copy(f.h0, sound.h)
	for i, g := range sound.g {
		copy(f.rows[i], g)
	}
	if !f.linearise(&sound, b.data) {
		return &effects{}
	}
	at := len(b.prior.Model.Coords)
	for k := range out {
		e, one := &out[k], &ones[k+1]
		e.raw, e.rawSlope = make([]float64, len(b.data)), make([]float64, len(b.data))
		for i := range b.data {
			e.raw[i], e.rawSlope[i] = one.h[i]-sound.h[i], one.g[i][at]
		}
		e.change = sound.white(b.data, func(i int) float64 { return e.raw[i] })
		e.slope = sound.white(b.data, func(i int) float64 { return e.rawSlope[i] })
	}
	rest := sound.white(b.data, func(i int) float64 { return residual(&b.data[i], sound.h[i]) * b.data[i].s })
	return &effects{out, rest, sound.bad}
}

// middle predicts all data at the middle of the prior.
func (f *fitter) middle(h *Hyp, c weighted) (fit, bool) {
	f.h = h
	f.w.Begin()
	out := fit{comp: c.comp, logWeight: c.logWeight, blank: c.blank, z: make([]float64, f.width())}
	if !f.set(&out, start{at: &out}, f.bel.data) {
		return out, false
	}
	f.keepRows(&out, len(f.bel.data))
	return out, true
}

// farBeyond is how far outside everything that single faults make a value lies,
// in their whole range, before pairs are not tried with it either; and beside the
// range in the value's own uncertainties.
const (
	farBeyond  = 1.0
	farBeyondS = 20.0
)

// beyondAll are the values that no fault comes near.
func (b *Belief) beyondAll(ones []fit) wrongs {
	var out wrongs
	for i := range b.data {
		d := &b.data[i]
		lo, hi := math.Inf(1), math.Inf(-1)
		for k := range ones {
			lo, hi = math.Min(lo, ones[k].h[i]), math.Max(hi, ones[k].h[i])
		}
		margin := farBeyond*(hi-lo) + farBeyondS*d.s
		if d.how == question.Measured && (d.y < lo-margin || d.y > hi+margin) {
			out = out.with(i)
		}
	}
	return out
}

// white puts a change of the fit's values into the metric of what it leaves open.
func (f *fit) white(data []datum, of func(i int) float64) []float64 {
	n := len(f.rows)
	v := make([]float64, n)
	for r, i := range f.rows {
		if r >= f.measured && isZero(f.j[r]) {
			continue // a bound that is met says nothing of what else may be wrong
		}
		v[r] = of(i) / data[i].s
		for k := range r {
			v[r] -= f.m[r*n+k] * v[k]
		}
		v[r] /= f.m[r*n+r]
	}
	return v
}

// added is the objective that two effects added leave, their magnitudes free:
// |e|²/2 less what the two slopes take of it.
func added(rest []float64, a, c *effect) float64 {
	var ee, ea, ec float64
	aa, cc, ac := 1.0, 1.0, 0.0
	for i, r := range rest {
		e := r - a.change[i] - c.change[i]
		ee += e * e
		ea += e * a.slope[i]
		ec += e * c.slope[i]
		aa += a.slope[i] * a.slope[i]
		cc += c.slope[i] * c.slope[i]
		ac += a.slope[i] * c.slope[i]
	}
	det := aa*cc - ac*ac
	return (ee-(ea*ea*cc-2*ea*ec*ac+ec*ec*aa)/det)/2 + math.Log(det)/2
}
