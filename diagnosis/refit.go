package diagnosis

import (
	"math"
	"slices"
)

// refit fits every component on all the data.
func (f *fitter) refit(h *Hyp) {
	f.h = h
	data := f.bel.data
	var all []fit
	for _, c := range f.bel.prior.components(h) {
		starts := f.starts(h, c)
		all = append(all, f.branch(c, starts, data)...)
	}
	h.Stale = false
	if len(all) == 0 {
		// Nothing solves under this hypothesis: it cannot have produced
		// the readings.
		h.Fits, h.LogEvidence = nil, math.Inf(-1)
		return
	}
	h.Fits, h.LogEvidence = keep(all)
}

type start struct {
	bad uint64
	z   []float64
	phi float64 // objective there, on the data it was fitted to
	n   int     // how many those were
}

// starts lists where to begin for a component: every kept set of wrong values,
// and always the empty set.
func (f *fitter) starts(h *Hyp, c weighted) []start {
	zero := make([]float64, f.bel.prior.Model.Dims())
	out := []start{{z: zero}}
	for _, k := range h.Fits {
		if k.comp != c.comp {
			continue
		}
		if k.bad == 0 {
			out[0] = start{0, k.z, k.phi, k.n}
		}
		for _, bad := range []uint64{k.bad, k.bad | k.doubt} {
			if bad != 0 {
				out = append(out, start{bad, k.z, k.phi, k.n})
			}
		}
	}
	return out
}

// branch fits from every start and follows the wrong-value branches that
// leave-one-out says are worth it.
func (f *fitter) branch(c weighted, starts []start, data []datum) []fit {
	var out []fit
	for _, s := range starts {
		if done(out, s.bad) {
			continue
		}
		g, ok := f.best(c, s, data)
		if ok {
			g.logWeight = c.logWeight
			out = append(out, g)
		}
		if !ok || g.phi > s.phi+jolt {
			out = f.doubted(c, s, out, data)
		}
		if ok && g.phi < hopeless {
			out = f.flips(c, g, out, data)
		}
	}
	if best := topFit(out); best != nil && best.phi < hopeless {
		out = f.flips(c, *best, out, data)
	}
	return out
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
	for i := max(s.n, len(data)-fewNew); i < len(data); i++ {
		bad := s.bad | 1<<i
		if done(out, bad) {
			continue
		}
		if g, ok := f.run(c.comp, bad, s.z, data); ok {
			g.logWeight = c.logWeight
			out = append(out, g)
		}
	}
	return out
}

func topFit(fits []fit) *fit {
	var best *fit
	for i := range fits {
		if best == nil || fits[i].logEv > best.logEv {
			best = &fits[i]
		}
	}
	return best
}

func done(fits []fit, bad uint64) bool {
	return slices.ContainsFunc(fits, func(k fit) bool { return k.bad == bad })
}

// best fits from a start and, where the objective came out high, from zero
// too: the magnitude's posterior can have two tops.
func (f *fitter) best(c weighted, s start, data []datum) (fit, bool) {
	g, ok := f.run(c.comp, s.bad, s.z, data)
	const suspicious = 6
	if (!ok || g.phi > suspicious) && !isZero(s.z) {
		if o, ok2 := f.run(c.comp, s.bad, make([]float64, len(s.z)), data); ok2 && (!ok || o.phi < g.phi) {
			return o, true
		}
	}
	return g, ok
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

// worth reports whether a branch of about this log evidence would count.
func (f *fitter) worth(c weighted, logEv float64) bool {
	return f.h.LogPrior+f.h.LogLooks+c.logWeight+logEv > f.floor
}

// flips follows the most promising values taken as wrong, one at a time.
func (f *fitter) flips(c weighted, from fit, out []fit, data []datum) []fit {
	set := f.bel.prior.Settings
	cur := from
	for range maxBad {
		bestGain, bestRow := math.Inf(-1), -1
		for r, di := range cur.rows {
			gain := cur.logWrongOf(r, &data[di], set.Epsilon) - math.Log1p(-set.Epsilon) - cur.loo[r]
			if gain > set.Flip && !done(out, cur.bad|1<<di) && f.worth(c, cur.logEv+gain) {
				g, ok := f.run(c.comp, cur.bad|1<<di, cur.z, data)
				if ok {
					g.logWeight = c.logWeight
					out = append(out, g)
					if g.logEv > bestGain {
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

// keepNats is how far under the best a fit is still kept: e^-9 of the evidence.
const keepNats = 9

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
