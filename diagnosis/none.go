package diagnosis

import (
	"math"

	"chargewright/prediction"
	"chargewright/question"
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
	eps := b.prior.Settings.Epsilon
	for q := from; q < len(b.data); q++ {
		d := &b.data[q]
		broad := func(x float64) float64 {
			p := (1 - noneUniform) * b.anyFault(d, x)
			if d.how != question.Measured || math.Abs(x) <= d.box {
				p += noneUniform / d.box
			}
			return p
		}
		// A value may be wrong on a strange vehicle too.
		slips := broad(d.y/10)/10 + broad(1000*d.y)*1000 + broad(-d.y) + normal(d.y, math.Max(d.s, slipWidth*d.box))
		b.LogNone += math.Log((1-eps)*broad(d.y) + eps*(anywhere/d.box+eachSlip*slips))
	}
}

// anyFault is the density of a value x under the mixture of what every
// hypothesis predicts before any reading.
func (b *Belief) anyFault(d *datum, x float64) float64 {
	a := &b.asked[d.asked]
	b.prior.learn([]*prediction.Asked{a})
	at := *d
	at.y = x
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
		sum += w * at.density(j.Mean[d.probe], s)
	}
	if weight == 0 {
		return 0
	}
	return sum / weight
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
