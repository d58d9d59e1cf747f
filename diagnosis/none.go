package diagnosis

import "math"

// None-of-these predicts, per value, half a uniform over the meter's range and
// half the mixture of what every hypothesis predicts before any reading,
// widened: broad enough to be surprised by nothing, so never sure of anything
// (docs/models/none.md).
const (
	noneWiden   = 9.0 // variance, three times the standard deviation
	noneUniform = 0.5
)

func (b *Belief) noneData(from int) {
	data := b.data[from:]
	sums := make([]float64, len(data))
	weight := 0.0
	f := newFitter(b)
	defer f.done()
	for i := range b.Hyps {
		h := &b.Hyps[i]
		if h.Intermittent || len(h.Faults) > 1 {
			continue
		}
		f.h = h
		p := math.Exp(h.LogPrior)
		for _, k := range b.prior.blank(h) {
			f.w.Begin()
			if f.evaluate(k.comp, k.z, data, true) != nil {
				continue
			}
			w := p * math.Exp(k.logWeight)
			weight += w
			for q := range data {
				s := math.Sqrt(data[q].s*data[q].s + noneWiden*dot(f.rows[q], f.rows[q]))
				sums[q] += w * data[q].density(f.h0[q], s)
			}
		}
	}
	b.Work.add(f.work)
	for q, d := range data {
		mix := 0.0
		if weight > 0 {
			mix = sums[q] / weight
		}
		b.LogNone += math.Log(noneUniform/d.box + (1-noneUniform)*mix)
	}
}

func (b *Belief) noneLooks(from int) {
	for _, l := range b.looks[from:] {
		sum, weight := 0.0, 0.0
		for i := range b.Hyps {
			h := &b.Hyps[i]
			w := math.Exp(h.LogPrior)
			sum += w * b.lookProb(l.table, h, l.showing, l.epoch)[l.class]
			weight += w
		}
		n := float64(len(l.table.Classes))
		b.LogNone += math.Log(noneUniform/n + (1-noneUniform)*sum/weight)
	}
}
