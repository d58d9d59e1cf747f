package diagnosis

import (
	"cmp"
	"math"
	"slices"
)

// take begins with a hypothesis.
func (f *fitter) take(h *Hyp) {
	f.h, f.own, f.heard = h, math.Inf(-1), f.bel.heard(h)
}

// refit fits every component on all the data, those that have fits first.
func (f *fitter) refit(h *Hyp) {
	f.take(h)
	if h.met > 0 {
		f.screen(h)
	}
	data := f.bel.data
	h.seen = len(data)
	comps := f.bel.prior.components(h)
	slices.SortStableFunc(comps, func(x, y weighted) int { return cmp.Compare(reached(h, y), reached(h, x)) })
	var all []fit
	for _, c := range comps {
		all = append(all, f.branch(c, f.starts(h, c), data)...)
		if best := topFit(all); best != nil {
			f.own = best.logWeight + best.logEv
		}
	}
	if len(all) == 0 {
		// Nothing solves under this hypothesis: it cannot have produced
		// the readings.
		h.Stale, h.Fits, h.LogEvidence = false, nil, math.Inf(-1)
		return
	}
	done := slices.DeleteFunc(slices.Clone(all), func(k fit) bool { return k.cut })
	if len(done) == 0 {
		h.sleep(all)
		return
	}
	h.Stale = false
	h.Fits, h.LogEvidence = keep(done)
}

// sleep leaves a hypothesis whose fits were all given up as the screening left
// it, but for what they might have reached at most: where they were dragged to
// says nothing about the next reading.
func (h *Hyp) sleep(cut []fit) {
	_, most := keep(cut)
	if over := h.LogEvidence - most; over > 0 {
		h.LogEvidence = most
		h.Fits = slices.Clone(h.Fits)
		for i := range h.Fits {
			h.Fits[i].logEv -= over
		}
	}
}

// reached is the best log evidence of a component's fits so far.
func reached(h *Hyp, c weighted) float64 {
	best := math.Inf(-1)
	for i := range h.Fits {
		if h.Fits[i].comp == c.comp {
			best = math.Max(best, h.Fits[i].logEv)
		}
	}
	return best
}

// start is where a fit begins: where another ended, or nowhere, and what it takes
// as wrong.
type start struct {
	bad wrongs
	at  *fit
}

// whole is a set of values with all that were taken together with them: where one
// value of a reading is strange the vehicle may have stood otherwise than written.
func (b *Belief) whole(set wrongs) wrongs {
	out := set
	for i := range b.data {
		for k := range b.data {
			if set.has(i) && b.data[k].reading == b.data[i].reading {
				out = out.with(k)
			}
		}
	}
	return out
}

// starts lists where to begin for a component: every kept set of wrong values,
// and always the empty set.
func (f *fitter) starts(h *Hyp, c weighted) []start {
	out := []start{{at: nowhere(f.bel.prior.Model.Dims())}}
	for i := range h.Fits {
		k := &h.Fits[i]
		if k.comp != c.comp {
			continue
		}
		if k.bad.none() {
			out[0] = start{wrongs{}, k}
		}
		if k.led {
			for _, bad := range h.tries {
				out = append(out, start{bad, k})
			}
		}
		for _, bad := range []wrongs{k.bad, k.bad.or(k.doubt), k.bad.or(f.bel.whole(k.doubt))} {
			if !bad.none() {
				out = append(out, start{bad, k})
			}
		}
	}
	return out
}

// branch fits from every start and follows the wrong-value branches that
// leave-one-out says are worth it.
func (f *fitter) branch(c weighted, starts []start, data []datum) []fit {
	var out []fit
	f.w.Begin()
	for _, s := range starts {
		if done(out, s.bad) {
			continue
		}
		g, ok := f.best(c, s, data)
		if ok {
			out = append(out, g)
		}
		if (!ok || g.cut || g.phi > s.at.phi+jolt) && (s.at.n > 0 || f.fresh(data)) {
			out = f.doubted(c, s, out, data)
		}
		if ok && !g.cut && g.phi < hopeless(len(data)) {
			out = f.flips(c, g, out, data)
		}
	}
	if best := topFit(out); best != nil && best.phi < hopeless(len(data)) {
		out = f.flips(c, *best, out, data)
	}
	if best := topFit(out); best != nil && !best.bad.none() {
		if len(f.h.Faults) < 2 {
			*best = f.pressed(c, start{best.bad, starts[0].at}, *best, data) // it was fitted from one start alone
		}
		out = f.pardons(c, *best, out, data)
	}
	return out
}

// pardons takes values back that a fit has as wrong and yet predicts, the
// likeliest first.
func (f *fitter) pardons(c weighted, from fit, out []fit, data []datum) []fit {
	eps := f.bel.prior.Settings.Epsilon
	for {
		most, at := 0.0, -1
		for i := range data {
			d := &data[i]
			if !from.bad.has(i) || done(out, from.bad.less(only(i))) {
				continue
			}
			s := math.Hypot(d.s, math.Sqrt(from.variance(from.g[i])))
			if gain := math.Log((1-eps)*d.density(from.h[i], s)) - d.logWrong(eps, from.h[i], s); gain > most {
				most, at = gain, i
			}
		}
		if at < 0 {
			return out
		}
		g, ok := f.run(c, from.bad.less(only(at)), start{wrongs{}, &from}, data)
		if !ok {
			return out
		}
		out = append(out, g)
		if g.cut || g.logEv < from.logEv {
			return out
		}
		from = g
	}
}

// fresh reports a single fault (or none) that was never fitted and has few values
// to meet: each of them is doubted. Where many come at once, those that screening
// found strange are.
func (f *fitter) fresh(data []datum) bool {
	return len(f.h.Faults) < 2 && len(data) <= fewNew && f.unfitted()
}

// unfitted says that the hypothesis was never fitted.
func (f *fitter) unfitted() bool {
	return !slices.ContainsFunc(f.h.Fits, func(k fit) bool { return k.n > 0 })
}

// jolt is the rise of the objective [nat] from which each new value is tried as
// wrong on its own, from where the fit stood before it came: a fit that was
// dragged far away no longer knows which value dragged it.
const jolt = 6

// fewNew is how many of the latest values are tried so: those of a reading or
// two. What came before them, screening has marked already.
const fewNew = 4

// doubted tries every new value as the wrong one.
func (f *fitter) doubted(c weighted, s start, out []fit, data []datum) []fit {
	for i := max(s.at.n, len(data)-fewNew); i < len(data); i++ {
		bad := s.bad.with(i)
		if done(out, bad) || !f.worth(c, f.doubtCeiling(s, i, data)) {
			continue
		}
		if g, ok := f.run(c, bad, s, data); ok {
			out = append(out, g)
		}
	}
	return out
}

// doubtCeiling is the most that a fit can reach which takes value i as wrong and
// meets all other new ones without moving.
func (f *fitter) doubtCeiling(s start, i int, data []datum) float64 {
	if s.at.n == 0 || len(s.at.h) < len(data) {
		return math.Inf(1)
	}
	eps := f.bel.prior.Settings.Epsilon
	le := s.at.was
	for k := s.at.n; k < len(data); k++ {
		switch {
		case k == i:
			le += data[k].logWrong(eps, s.at.h[k], data[k].s)
		case !s.bad.has(k):
			le += data[k].logMet(eps)
		}
	}
	return le
}

// nowhere is the middle of the prior, with nothing known.
func nowhere(dims int) *fit { return &fit{z: make([]float64, dims)} }

func topFit(fits []fit) *fit {
	var best *fit
	for i := range fits {
		if fits[i].cut {
			continue
		}
		if best == nil || fits[i].logWeight+fits[i].logEv > best.logWeight+best.logEv {
			best = &fits[i]
		}
	}
	return best
}

func done(fits []fit, bad wrongs) bool {
	return slices.ContainsFunc(fits, func(k fit) bool { return k.bad == bad })
}

// best fits from a start and, where the objective came out as it seldom does, from
// zero too: the magnitude's posterior can have two tops.
func (f *fitter) best(c weighted, s start, data []datum) (fit, bool) {
	g, ok := f.run(c, s.bad, s, data)
	if !isZero(s.at.z) && (!ok || f.odd(c, &g, s, data) || suspicious(g.phi, len(data))) {
		first := &g
		if !ok {
			first = nil
		}
		if o, more := f.again(c, s.bad, nowhere(len(s.at.z)).z, first, data); more {
			g, ok = o, true
		}
	}
	if g, ok = f.elsewhere(c, s, g, ok, data); ok {
		g = f.resting(c, s, g, data)
	}
	return g, ok
}

// again fits from another place, and says whether more came of it than of the first one,
// nil where nothing did. What cannot come to more is given up.
func (f *fitter) again(c weighted, bad wrongs, z []float64, first *fit, data []datum) (fit, bool) {
	whole := first != nil && !first.cut
	own := f.own
	if whole {
		f.own = math.Max(own, first.logWeight+first.logEv+keepNats)
	}
	f.first = first
	o, fitted := f.run(c, bad, start{at: &fit{z: z}}, data)
	f.own, f.first = own, nil
	return o, fitted && !o.cut && (!whole || o.logEv > first.logEv)
}

// more is the better of a fit and one from another place.
func (f *fitter) more(c weighted, s start, z []float64, g fit, data []datum) fit {
	if o, more := f.again(c, s.bad, z, &g, data); more {
		return o
	}
	return g
}

// suspicious reports an objective that readings of the fitted vehicle would
// seldom give: twice it is chi-squared with n degrees, whose upper thousandth is
// near n + 3.1 sqrt(2 n) + 6.
func suspicious(phi float64, n int) bool {
	return 2*phi > float64(n)+3.1*math.Sqrt(2*float64(n))+6
}

func isZero(z []float64) bool {
	for _, v := range z {
		if v != 0 {
			return false
		}
	}
	return true
}

const maxBad = 3

// least is the log of weight times evidence from which a fit counts: in the job,
// and within its hypothesis.
func (f *fitter) least() float64 {
	return math.Max(f.floor-f.heard, f.own-keepNats)
}

// worth reports whether a branch of about this log evidence would count.
func (f *fitter) worth(c weighted, logEv float64) bool {
	return c.logWeight+logEv > f.least()
}

// flips follows the most promising values taken as wrong, one at a time.
func (f *fitter) flips(c weighted, from fit, out []fit, data []datum) []fit {
	set := f.bel.prior.Settings
	cur := from
	for range maxBad {
		bestGain, bestRow := math.Inf(-1), -1
		for r, di := range cur.rows {
			gain := cur.logWrongOf(r, &data[di], set.Epsilon) - math.Log1p(-set.Epsilon) - cur.loo[r]
			if gain > set.Flip && !done(out, cur.bad.with(di)) && f.worth(c, cur.logEv+gain) {
				g, ok := f.run(c, cur.bad.with(di), start{wrongs{}, &cur}, data)
				if ok {
					out = append(out, g)
					if !g.cut && g.logEv > bestGain {
						bestGain, bestRow = g.logEv, len(out)-1
					}
				}
			}
		}
		if bestRow < 0 || bestGain < cur.logEv {
			return out
		}
		cur = out[bestRow]
	}
	return out
}

// keepNats is how far under the best a fit is still kept: e^-7 of the evidence.
const keepNats = 7

// keep drops hopeless fits and returns the log evidence of all.
func keep(fits []fit) ([]fit, float64) {
	logs := make([]float64, len(fits))
	top := math.Inf(-1)
	for i, k := range fits {
		logs[i] = k.logWeight + k.logEv
		top = math.Max(top, logs[i])
	}
	ev := logSumExp(logs)
	var out []fit
	for i, k := range fits {
		if logs[i] > top-keepNats {
			out = append(out, k)
		}
	}
	return out, ev
}
