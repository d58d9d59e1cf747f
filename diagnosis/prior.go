package diagnosis

import (
	"math"
	"slices"

	"chargewright/prediction"
	"chargewright/question"
)

// singles lists the sound vehicle, every fault of the library and every pair in
// which one fault brings the other with it, with their priors.
func (p *Prior) singles() []Hyp {
	total := p.NoFault
	for _, f := range p.faults() {
		if !f.Outside {
			total += p.Rates[f.ID]
		}
	}
	share := 1 - p.Settings.NonePrior - p.Settings.PairPrior
	hyps := []Hyp{{LogPrior: math.Log(share * p.NoFault / total)}}
	for i, f := range p.faults() {
		rate := p.Rates[f.ID]
		if f.Outside || rate <= 0 {
			continue
		}
		// A fault that is not showing while it is looked for reads as a
		// sound vehicle.
		shows := f.Shows
		if shows == 0 {
			shows = 1
		}
		hyps = append(hyps, Hyp{Faults: []int{i}, LogPrior: math.Log(share * rate / total * shows)})
		if shows < 1 {
			hyps = append(hyps, Hyp{Faults: []int{i}, Intermittent: true, LogPrior: math.Log(share * rate / total * (1 - shows))})
		}
	}
	hyps = append(hyps, p.causal(share/total)...)
	for i := range hyps {
		h := &hyps[i]
		h.rated = h.LogPrior
		h.LogPrior += p.told(h.Faults)
		h.Fits = p.blank(h)
		h.place = i + 1
	}
	return hyps
}

// told is how much what was told speaks for some faults, or for a sound vehicle: of
// two, the one that it speaks for more made the driver say it.
func (p *Prior) told(faults []int) float64 {
	switch {
	case p.Told == nil:
		return 0
	case len(faults) == 0:
		return p.Told[len(p.Told)-1]
	}
	most := math.Inf(-1)
	for _, f := range faults {
		most = math.Max(most, p.Told[f])
	}
	return most
}

// causal lists the pairs in which one fault follows from another.
func (p *Prior) causal(scale float64) []Hyp {
	var out []Hyp
	for i, f := range p.faults() {
		for _, fo := range f.Follows {
			j, ok := p.Model.FaultIndex(fo.Fault)
			if !ok || f.Outside || p.Rates[f.ID] <= 0 || fo.Share <= 0 {
				continue
			}
			out = append(out, Hyp{Faults: []int{i, j}, LogPrior: math.Log(scale * p.Rates[f.ID] * fo.Share * p.Settings.PairPrior)})
		}
	}
	return out
}

// blank gives a hypothesis its fits before any reading: the prior itself.
func (p *Prior) blank(h *Hyp) []fit {
	var out []fit
	for _, c := range p.components(h) {
		out = append(out, fit{blank: c.blank, comp: c.comp, logWeight: c.logWeight, z: make([]float64, p.Model.Dims())})
	}
	return out
}

// components are the products of the magnitude components of the faults.
func (p *Prior) components(h *Hyp) []weighted {
	out := []weighted{{}}
	for k, fi := range h.Faults {
		f := p.faults()[fi]
		if f.Magnitude == nil {
			continue
		}
		var next []weighted
		n := p.Settings.Components
		for _, w := range out {
			for c := range n {
				v := w
				v.comp.Mean[k], v.comp.SD[k] = prediction.MagnitudeComponent(f.Magnitude, c, n)
				v.logWeight -= math.Log(float64(n))
				next = append(next, v)
			}
		}
		out = next
	}
	for i := range out {
		out[i].blank = i + 1
	}
	return out
}

// sharesSound reports whether a hypothesis predicts what the sound vehicle
// does in every reading, and so needs no fit of its own.
func (h *Hyp) sharesSound(b *Belief) bool {
	if !h.Intermittent {
		return false
	}
	for _, r := range b.Readings {
		if r.Showing == question.DoingIt {
			return false
		}
	}
	return true
}

// sleeping lists such hypotheses.
func (b *Belief) sleeping() []int {
	var out []int
	for i := range b.Hyps {
		if b.Hyps[i].sharesSound(b) {
			out = append(out, i)
		}
	}
	return out
}

// heard is the log of prior and looks of a hypothesis, and for the sound vehicle of all
// that share its evidence with it: there are often more of them than of itself.
func (b *Belief) heard(h *Hyp) float64 {
	logs := []float64{h.LogPrior + h.LogLooks}
	if len(h.Faults) == 0 {
		for _, i := range b.sleeping() {
			logs = append(logs, b.Hyps[i].LogPrior+b.Hyps[i].LogLooks)
		}
	}
	return logSumExp(logs)
}

// shares are shares of hypotheses by what their evidence counts for: the sound vehicle's
// is that of all that share it.
func (b *Belief) shares(of []float64) []float64 {
	out := slices.Clone(of)
	for _, i := range b.sleeping() {
		if i < len(out) {
			out[0] += of[i]
		}
	}
	return out
}

// shareSound gives such hypotheses the sound vehicle's evidence.
func (b *Belief) shareSound() {
	for i := range b.Hyps {
		if h := &b.Hyps[i]; h.sharesSound(b) {
			h.LogEvidence, h.Fits, h.Stale = b.Hyps[0].LogEvidence, b.Hyps[0].Fits, b.Hyps[0].Stale
		}
	}
}

// wakeIntermittent gives intermittent hypotheses blank fits of their own when
// the first reading comes that was taken while the vehicle did it.
func (b *Belief) wakeIntermittent() {
	for i := range b.Hyps {
		if h := &b.Hyps[i]; h.Intermittent && h.sharesSound(b) {
			h.Fits = b.prior.blank(h)
			h.Stale = true
		}
	}
}

// logPair is the log of how much rarer two independent faults are than either alone.
func (b *Belief) logPair() float64 {
	set := b.prior.Settings
	return math.Log(set.PairPrior) - 2*math.Log(1-set.PairPrior-set.NonePrior)
}

// pairPrior is the log prior of the independent pair of two single faults: of their
// rates, of what was told, and of what repairs did to the two together. It is not
// the sum of theirs: a repair that cured one and left the other speaks once.
func (b *Belief) pairPrior(singles ...*Hyp) float64 {
	both := Hyp{}
	p := b.logPair()
	for _, s := range singles {
		p += s.rated
		both.Faults = append(both.Faults, s.Faults...)
	}
	p += b.prior.told(both.Faults)
	for k, r := range b.repairs {
		p += logCured(r.Cured, len(b.active(&both, question.DoingIt, k+1)) == 0)
	}
	return p
}
