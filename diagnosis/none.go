package diagnosis

import (
	"math"

	"chargewright/prediction"
)

// None-of-these predicts, per value, half a uniform over the meter's range and
// half the mixture of what every hypothesis predicts before any reading,
// widened: broad enough to be surprised by nothing, so never sure of anything
// (docs/models/none.md).
const (
	noneWiden   = 9.0 // variance, three times the standard deviation
	noneUniform = 0.5
)

func (b *Belief) noneData(from int) {
	for q := from; q < len(b.data); q++ {
		d := &b.data[q]
		a := &b.asked[d.asked]
		b.prior.learn([]*prediction.Asked{a})
		sum, weight := 0.0, 0.0
		for _, j := range b.prior.remembered(a) {
			h := &b.Hyps[j.Hyp]
			if h.Intermittent || len(h.Faults) > 1 {
				continue
			}
			n := len(j.Mean)
			w := math.Exp(h.LogPrior) * j.Weight
			s := math.Sqrt(d.s*d.s + noneWiden*j.Cov[d.probe*n+d.probe])
			weight += w
			sum += w * d.density(j.Mean[d.probe], s)
		}
		mix := 0.0
		if weight > 0 {
			mix = sum / weight
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
