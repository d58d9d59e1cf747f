package diagnosis

import (
	"cmp"
	"slices"
)

// nearLeads are the pairs of a leading single and another that are worth a glance: those
// that come nearest to the readings when the second fault's effect on a sound vehicle is
// added to where the first fitted. Nothing is solved for that. Nil where all are worth it.
func (b *Belief) nearLeads(leads []int, eff *effects) map[[2]int]bool {
	if len(eff.all) == 0 {
		return nil
	}
	type scored struct {
		key   [2]int
		score float64
	}
	f := newFitter(b)
	defer f.done()
	best := map[[2]int]float64{}
	for _, i := range leads {
		if len(b.Hyps[i].Fits) == 0 {
			continue // nothing to start from
		}
		for _, bad := range append([]wrongs{{}}, b.lessWrong(i)...) {
			f.beside(i, bad, eff, best)
		}
	}
	b.Work.Add(f.spent())
	all := make([]scored, 0, len(best))
	for key, score := range best {
		all = append(all, scored{key, score})
	}
	slices.SortFunc(all, func(x, y scored) int {
		return cmp.Or(cmp.Compare(y.score, x.score), slices.Compare(x.key[:], y.key[:]))
	})
	out := map[[2]int]bool{}
	for _, s := range all[:min(b.prior.Settings.PairNear, len(all))] {
		out[s.key] = true
	}
	return out
}

// beside scores every fault as a second one to where hypothesis i fitted, with some values
// taken as wrong, and keeps the best score of a pair.
func (f *fitter) beside(i int, bad wrongs, eff *effects, best map[[2]int]float64) {
	b := f.bel
	k := b.bestFit(i)
	f.h = &b.Hyps[i]
	f.w.Begin()
	out := fit{comp: k.comp, logWeight: k.logWeight, bad: bad, z: make([]float64, f.width())}
	copy(out.z, k.z)
	if !f.set(&out, start{at: k}, b.data) || !f.linearise(&out, b.data) {
		return
	}
	base := out.logWeight + f.ceiling(&out, b.data)
	rest := out.white(b.data, func(r int) float64 {
		return residual(&b.data[r], f.h0[r])*b.data[r].s + dot(f.rows[r], out.z)
	})
	n := len(out.rows)
	alone := &effect{change: make([]float64, n), slope: make([]float64, n)} // the first fault's effect is in the fit
	for e := range eff.all {
		x := &eff.all[e]
		if x.hyp == i || b.clash(b.Hyps[i].Faults[0], b.Hyps[x.hyp].Faults[0]) {
			continue
		}
		second := &effect{
			change: out.white(b.data, func(r int) float64 { return x.raw[r] }),
			slope:  out.white(b.data, func(r int) float64 { return x.rawSlope[r] }),
		}
		score := b.pairPrior(&b.Hyps[i], &b.Hyps[x.hyp]) + base + x.logWeight - added(rest, second, alone)
		key := pairKey(b.Hyps[i].Faults[0], b.Hyps[x.hyp].Faults[0])
		if old, ok := best[key]; !ok || score > old {
			best[key] = score
		}
	}
}
