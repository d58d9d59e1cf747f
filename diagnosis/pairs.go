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
	return b.Surprise() < b.prior.Settings.Surprise || b.bestFit(lead).bad != 0
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

// addPairs screens pairs around the best singles and fits the most promising.
func (b *Belief) addPairs(ctx context.Context) error {
	b.pairs = true
	cands := b.pairCandidates()
	if len(cands) == 0 {
		return nil
	}
	scores := make([]float64, len(cands))
	sub := *b
	sub.Hyps = cands
	err := sub.each(ctx, func(f *fitter, i int) {
		scores[i] = f.roughly(&sub.Hyps[i])
	})
	if err != nil {
		return err
	}
	order := make([]int, len(cands))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(scores[y], scores[x]) })
	order = order[:min(len(order), b.prior.Settings.PairKeep)]
	kept := make([]Hyp, len(order))
	for i, o := range order {
		kept[i] = cands[o]
	}
	sub.Hyps = kept
	floor := b.floor()
	err = sub.each(ctx, func(f *fitter, i int) {
		f.floor = floor
		f.refit(&sub.Hyps[i])
		sub.Hyps[i].LogLooks = b.logLooks(&sub.Hyps[i])
	})
	if err == nil {
		err = b.each(ctx, func(f *fitter, i int) {
			// A fault that brings another with it was screened from a fit
			// that knew nothing; it gets the same chance.
			if h := &b.Hyps[i]; len(h.Faults) == 2 && h.Stale {
				f.floor = floor
				f.refit(h)
			}
		})
	}
	b.Work.add(sub.Work)
	b.Hyps = append(b.Hyps, kept...)
	return err
}

// pairCandidates are independent pairs around the leading singles.
func (b *Belief) pairCandidates() []Hyp {
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
	byPost := slices.Clone(singles)
	slices.SortStableFunc(byPost, func(x, y int) int { return cmp.Compare(b.post[y], b.post[x]) })
	logPair := math.Log(b.prior.Settings.PairPrior) - 2*math.Log(1-b.prior.Settings.PairPrior-b.prior.Settings.NonePrior)
	var out []Hyp
	for _, i := range byPost[:min(pairLeads, len(byPost))] {
		for _, j := range singles {
			a, c := b.Hyps[i].Faults[0], b.Hyps[j].Faults[0]
			key := pairKey(a, c)
			if a == c || have[key] || b.clash(a, c) {
				continue
			}
			have[key] = true
			h := Hyp{Faults: []int{key[0], key[1]}, LogPrior: b.Hyps[i].LogPrior + b.Hyps[j].LogPrior + logPair}
			h.Fits = b.prior.blank(&h)
			out = append(out, h)
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

// roughSteps is how far a fit is taken to score a pair.
const roughSteps = 2

// roughly scores a pair by the best of a few cheap fits: middle components.
func (f *fitter) roughly(h *Hyp) float64 {
	f.h, f.own = h, math.Inf(-1)
	f.work.Screens++
	best := math.Inf(-1)
	comps := f.bel.prior.components(h)
	f.steps = roughSteps
	defer func() { f.steps = maxSteps }()
	for i := 0; i < len(comps); i += 2 {
		c := comps[i]
		g, ok := f.run(c, 0, start{z: make([]float64, f.bel.prior.Model.Dims())}, f.bel.data)
		if ok {
			best = math.Max(best, h.LogPrior+g.logEv+c.logWeight)
		}
	}
	return best
}
