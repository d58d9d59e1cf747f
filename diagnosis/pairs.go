package diagnosis

import (
	"cmp"
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// pairsWanted reports whether no single fault explains the readings: the best
// single's posterior-predictive p is small, its best fit needs a value to be
// wrong, or none-of-these has grown.
func (b *Belief) pairsWanted() bool {
	if b.pairs || len(b.data) == 0 || b.prior.Settings.PairPrior <= 0 {
		return false
	}
	if b.none > b.prior.Settings.NoneWakes {
		return true
	}
	lead := b.leader()
	if len(b.Hyps[lead].Fits) == 0 {
		return true
	}
	return b.Surprise() < b.prior.Settings.Surprise || !b.bestFit(lead).bad.none()
}

func (b *Belief) leader() int {
	best := 0
	for i := range b.post {
		if b.post[i] > b.post[best] {
			best = i
		}
	}
	return best
}

func (b *Belief) bestFit(i int) *fit {
	fits := b.Hyps[i].Fits
	best := 0
	for k := range fits {
		if fits[k].logWeight+fits[k].logEv > fits[best].logWeight+fits[best].logEv {
			best = k
		}
	}
	return &fits[best]
}

// Surprise is the posterior-predictive p of the leading hypothesis: how often
// readings as far out as these would come if it were true. At the fit, twice
// the objective is chi-squared with as many degrees as values.
func (b *Belief) Surprise() float64 {
	lead := b.leader()
	if len(b.data) == 0 || len(b.Hyps[lead].Fits) == 0 {
		return 1
	}
	k := b.bestFit(lead)
	if len(k.rows) == 0 {
		return 1
	}
	return 1 - distuv.ChiSquared{K: float64(len(k.rows))}.CDF(2*k.phi)
}

// pairLeads is how many of the best singles are combined with every other.
const pairLeads = 6

// addPairs looks at pairs around the best singles from where those fitted, takes
// the most promising a few steps on, and fits the best of them; then it looks at
// what differs from the best in one fault.
func (b *Belief) addPairs(ctx context.Context) error {
	b.pairs = true
	keep := b.prior.Settings.PairKeep
	eff := b.effects()
	added := b.superposed(glanced*keep, eff)
	seeds := unfitted(added[:min(keep/seeded, len(added))], b.Hyps)
	for i := range seeds {
		b.leadOn(&seeds[i])
	}
	found, err := b.searched(ctx, b.pairCandidates(added, eff), keep, seeds)
	if err != nil {
		return err
	}
	floor := b.floor()
	err = b.each(ctx, func(f *fitter, i int) {
		// A fault that brings another with it was screened from a fit
		// that knew nothing; it gets the same chance.
		if h := &b.Hyps[i]; len(h.Faults) == 2 && h.Stale {
			f.floor = floor
			f.refit(h)
		}
	})
	if err != nil {
		return err
	}
	b.Hyps = append(b.Hyps, found...)
	return b.exchanges(ctx)
}

// seeded is the share of the fitted pairs, one in so many, that come straight from
// adding effects: scores of a few steps inherit what the leading fault alone took
// for wrong values, and two faults that explain those stand far behind.
const seeded = 2

// leadOn lets a pair start as well from where the likelier of its faults fitted
// alone, with what that took as wrong.
func (b *Belief) leadOn(h *Hyp) {
	lead := -1
	for i, s := range b.Hyps {
		if len(s.Faults) == 1 && !s.Intermittent && slices.Contains(h.Faults, s.Faults[0]) && (lead < 0 || b.post[i] > b.post[lead]) {
			lead = i
		}
	}
	if lead < 0 {
		return
	}
	b.fromLead(h, lead, b.Hyps[lead].Faults[0] != h.Faults[0])
	h.tries = append(slices.Clone(h.tries), b.lessWrong(lead)...)
}

// unfitted drops the pairs that there are.
func unfitted(pairs, have []Hyp) []Hyp {
	return slices.DeleteFunc(slices.Clone(pairs), func(p Hyp) bool {
		return slices.ContainsFunc(have, func(h Hyp) bool { return len(h.Faults) == 2 && samePair(&h, &p) })
	})
}

func samePair(x, y *Hyp) bool {
	return pairKey(x.Faults[0], x.Faults[1]) == pairKey(y.Faults[0], y.Faults[1])
}

// searched scores pairs, rougher first, and fits the n best and those of seeds
// that are not among them.
func (b *Belief) searched(ctx context.Context, cands []Hyp, n int, seeds []Hyp) ([]Hyp, error) {
	for _, round := range []struct {
		score func(*fitter, *Hyp) float64
		keep  int
	}{{(*fitter).glance, glanced * n}, {(*fitter).roughly, n}} {
		var err error
		if cands, err = b.bestOf(ctx, cands, round.score, round.keep); err != nil {
			return nil, err
		}
	}
	sub := b.among(append(cands, unfitted(seeds, cands)...))
	floor := b.floor()
	err := sub.each(ctx, func(f *fitter, i int) {
		f.floor = floor
		f.refit(&sub.Hyps[i])
		sub.Hyps[i].LogLooks = b.logLooks(&sub.Hyps[i])
	})
	b.Work.Add(sub.Work)
	return sub.Hyps, err
}

// Limits of the search by exchange.
const (
	exchangeRounds = 2
	exchangeFrom   = 2 // pairs that are exchanged from
	exchangeKeep   = 8 // pairs that are fitted anew a round
)

// exchanges looks at the pairs that differ from the best ones in one fault, from
// where those fitted. Many look-alikes of one member crowd the first search; the
// best partner of each can stand behind them.
func (b *Belief) exchanges(ctx context.Context) error {
	for range exchangeRounds {
		b.normalise()
		best := b.leader()
		cands := b.exchanged()
		if len(cands) == 0 {
			return nil
		}
		found, err := b.searched(ctx, cands, exchangeKeep, nil)
		if err != nil {
			return err
		}
		b.Hyps = append(b.Hyps, found...)
		b.normalise()
		if b.leader() == best {
			return nil
		}
	}
	return nil
}

// exchanged lists the pairs that have not been fitted and share a fault with one
// of the best.
func (b *Belief) exchanged() (out []Hyp) {
	have := map[[2]int]bool{}
	var pairs, singles []int
	for i, h := range b.Hyps {
		switch {
		case len(h.Faults) == 2:
			have[pairKey(h.Faults[0], h.Faults[1])] = true
			if len(h.Fits) > 0 && !h.Stale {
				pairs = append(pairs, i)
			}
		case len(h.Faults) == 1 && !h.Intermittent:
			singles = append(singles, i)
		}
	}
	slices.SortStableFunc(pairs, func(x, y int) int { return cmp.Compare(b.post[y], b.post[x]) })
	for _, i := range pairs[:min(exchangeFrom, len(pairs))] {
		if b.post[i] < b.prior.Settings.Lazy {
			break
		}
		for keep := range 2 {
			kept := b.Hyps[i].Faults[keep]
			for _, j := range singles {
				other := b.Hyps[j].Faults[0]
				key := pairKey(kept, other)
				if kept == other || have[key] || b.clash(kept, other) {
					continue
				}
				have[key] = true
				out = append(out, b.withOne(i, keep, j))
			}
		}
	}
	return out
}

// withOne makes a pair of one fault of a pair, from where that fitted, and a
// single fault.
func (b *Belief) withOne(pair, keep, single int) Hyp {
	p := &b.Hyps[pair]
	kept, other := p.Faults[keep], b.Hyps[single].Faults[0]
	key := pairKey(kept, other)
	parts := []*Hyp{}
	for i := range b.Hyps {
		if s := &b.Hyps[i]; len(s.Faults) == 1 && !s.Intermittent && (s.Faults[0] == kept || s.Faults[0] == other) {
			parts = append(parts, s)
		}
	}
	h := Hyp{Faults: []int{key[0], key[1]}, LogPrior: b.pairPrior(parts...)}
	h.Fits = b.prior.blank(&h)
	from := b.bestFit(pair)
	b.fromFit(&h, from, keep, key[0] != kept)
	if !from.bad.none() {
		h.tries = []wrongs{from.bad}
	}
	return h
}

// glanced is how many times as many pairs are taken a few steps on as are fitted
// in the end.
const glanced = 3

// among is the belief with other hypotheses and no work done yet.
func (b *Belief) among(hyps []Hyp) Belief {
	sub := *b
	sub.Hyps, sub.Work = hyps, Work{}
	return sub
}

// bestOf returns the n hypotheses that score best, in order of their score.
func (b *Belief) bestOf(ctx context.Context, cands []Hyp, score func(*fitter, *Hyp) float64, n int) ([]Hyp, error) {
	sub := b.among(cands)
	scores := make([]float64, len(cands))
	err := sub.each(ctx, func(f *fitter, i int) { scores[i] = score(f, &sub.Hyps[i]) })
	if err != nil {
		return nil, err
	}
	order := make([]int, len(cands))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(scores[y], scores[x]) })
	out := make([]Hyp, min(n, len(order)))
	for i := range out {
		out[i] = cands[order[i]]
	}
	b.Work.Add(sub.Work)
	return out, nil
}

// pairCandidates adds independent pairs around the leading singles to those that
// there are.
func (b *Belief) pairCandidates(out []Hyp, eff *effects) []Hyp {
	var singles []int
	have := map[[2]int]bool{}
	for i, h := range b.Hyps {
		switch {
		case len(h.Faults) == 1 && !h.Intermittent:
			singles = append(singles, i)
		case len(h.Faults) == 2:
			have[pairKey(h.Faults[0], h.Faults[1])] = true
		}
	}
	out = slices.DeleteFunc(out, func(h Hyp) bool { return have[pairKey(h.Faults[0], h.Faults[1])] })
	place := map[[2]int]int{}
	for k, h := range out {
		place[pairKey(h.Faults[0], h.Faults[1])] = k
	}
	byPost := slices.Clone(singles)
	slices.SortStableFunc(byPost, func(x, y int) int { return cmp.Compare(b.post[y], b.post[x]) })
	leads := byPost[:min(pairLeads, len(byPost))]
	near := b.nearLeads(leads, eff)
	for _, i := range leads {
		tries := b.lessWrong(i)
		for _, j := range singles {
			a, c := b.Hyps[i].Faults[0], b.Hyps[j].Faults[0]
			key := pairKey(a, c)
			if a == c || have[key] || b.clash(a, c) {
				continue
			}
			have[key] = true
			k, ok := place[key]
			if !ok && near != nil && !near[key] {
				continue
			}
			if !ok {
				k = len(out)
				h := Hyp{Faults: []int{key[0], key[1]}, LogPrior: b.pairPrior(&b.Hyps[i], &b.Hyps[j])}
				h.Fits = b.prior.blank(&h)
				out = append(out, h)
			}
			h := &out[k]
			b.fromLead(h, i, h.Faults[0] != a)
			h.tries = append(slices.Clone(h.tries), tries...)
		}
	}
	return out
}

// mostTries is how many sets of wrong values a pair begins with at most.
const mostTries = 4

// lessWrong lists sets of wrong values for pairs with hypothesis i: what i takes
// as wrong, and that without one of the readings, which the second fault may
// explain.
func (b *Belief) lessWrong(i int) []wrongs {
	if len(b.Hyps[i].Fits) == 0 || b.bestFit(i).bad.none() {
		return nil
	}
	bad := b.bestFit(i).bad
	out := []wrongs{bad}
	for k := range b.data {
		less := bad.less(b.whole(only(k)))
		if bad.has(k) && !less.none() && len(out) < mostTries && !slices.Contains(out, less) {
			out = append(out, less)
		}
	}
	return out
}

func pairKey(a, c int) [2]int { return [2]int{min(a, c), max(a, c)} }

// clash reports that two faults change the same thing and cannot both be.
func (b *Belief) clash(a, c int) bool {
	fa, fc := b.prior.faults()[a], b.prior.faults()[c]
	if fa.Pattern != "" && fc.Pattern != "" {
		return true
	}
	for _, x := range fa.Changes {
		for _, y := range fc.Changes {
			if x.Target == y.Target {
				return true
			}
		}
	}
	return false
}

// fromLead starts a pair's fits where those of one of its faults ended; second
// says that this fault stands second in the pair.
func (b *Belief) fromLead(h *Hyp, lead int, second bool) {
	if len(b.Hyps[lead].Fits) > 0 {
		b.fromFit(h, b.bestFit(lead), 0, second)
	}
}

// fromFit starts a pair's fits where a fit ended that has one of its faults as its
// own fault number was; second says that this fault stands second in the pair.
func (b *Belief) fromFit(h *Hyp, k *fit, was int, second bool) {
	at, coords := 0, len(b.prior.Model.Coords)
	if second {
		at = 1
	}
	for i := range h.Fits {
		g := &h.Fits[i]
		if g.comp.Mean[at] != k.comp.Mean[was] || g.comp.SD[at] != k.comp.SD[was] {
			continue
		}
		g.z = slices.Clone(k.z)
		g.z[coords], g.z[coords+1] = 0, 0
		g.z[coords+at] = k.z[coords+was]
		g.led = true
	}
}

// glance scores a pair by how far its linear model would fall from where the
// fault in front fitted.
func (f *fitter) glance(h *Hyp) float64 {
	f.take(h)
	f.work.Screens++
	f.w.Begin()
	best := math.Inf(-1)
	for i := range h.Fits {
		k := &h.Fits[i]
		if !k.led {
			continue
		}
		out := fit{comp: k.comp, logWeight: k.logWeight, z: make([]float64, f.width())}
		copy(out.z, k.z)
		if !f.set(&out, start{at: &out}, f.bel.data) {
			continue
		}
		for _, bad := range append([]wrongs{{}}, h.tries...) {
			out.bad = bad
			if !f.linearise(&out, f.bel.data) {
				continue
			}
			phi := f.objective(out.z, f.bel.data, bad)
			_, dec := f.direction(&out)
			score := out.logWeight + f.ceiling(&out, f.bel.data) - math.Max(0, phi-dec)
			if score > best {
				best, h.hint = score, hint{i, bad}
			}
		}
	}
	return h.LogPrior + best
}

// hint is where a glance promised most: which of the fits, and what it takes as
// wrong.
type hint struct {
	fit int
	bad wrongs
}

// roughSteps is how far a fit is taken to score a pair.
const roughSteps = 7

// roughly scores a pair by a few steps from where the glance promised most.
func (f *fitter) roughly(h *Hyp) float64 {
	f.take(h)
	f.steps = roughSteps
	defer func() { f.steps = maxSteps }()
	f.w.Begin()
	k := &h.Fits[h.hint.fit]
	g, ok := f.run(weighted{comp: k.comp, logWeight: k.logWeight}, h.hint.bad, start{at: &fit{z: k.z}}, f.bel.data)
	if !ok {
		return math.Inf(-1)
	}
	return h.LogPrior + g.logWeight + g.logEv
}

// Considering returns the belief with two faults at once weighed, whatever the
// search for pairs made of them: fitted from where each of the two fitted alone,
// and from nothing. It asks only that both are faults that a vehicle can have
// together.
func (b Belief) Considering(first, second int) Belief {
	key := pairKey(first, second)
	nb := b.clone()
	var leads []int
	for i, h := range nb.Hyps {
		switch {
		case len(h.Faults) == 2 && pairKey(h.Faults[0], h.Faults[1]) == key && !h.Stale:
			return nb
		case len(h.Faults) == 1 && !h.Intermittent && (h.Faults[0] == first || h.Faults[0] == second):
			leads = append(leads, i)
		}
	}
	if len(leads) != 2 || nb.clash(first, second) {
		return nb
	}
	f := newFitter(&nb)
	defer f.done()
	var best *Hyp
	for _, lead := range leads {
		h := Hyp{Faults: []int{key[0], key[1]}, LogPrior: nb.pairPrior(&nb.Hyps[leads[0]], &nb.Hyps[leads[1]])}
		h.Fits = nb.prior.blank(&h)
		nb.fromLead(&h, lead, nb.Hyps[lead].Faults[0] != key[0])
		h.tries = nb.lessWrong(lead)
		f.refit(&h)
		h.LogLooks = nb.logLooks(&h)
		if best == nil || h.LogEvidence > best.LogEvidence {
			best = &h
		}
	}
	nb.Work.Add(f.spent())
	nb.Hyps = append(nb.Hyps, *best)
	nb.normalise()
	return nb
}
