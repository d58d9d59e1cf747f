package diagnosis

import (
	"errors"
	"math"
	"slices"

	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
)

// None-of-these predicts, per reading, half a uniform over the meters' ranges and
// half the mixture of what every hypothesis predicts before any reading, widened
// and with the values of the reading together: broad enough to be surprised by
// little, so never sure of anything (docs/models/none.md). A value may be wrong
// on a strange vehicle too.
const (
	noneWiden   = 9.0 // variance, three times the standard deviation
	noneUniform = 0.5
	noneLook    = 0.1
)

// noneReadings is the log evidence of none-of-these from the data of index from
// on.
func (b *Belief) noneReadings(from int) float64 {
	sum := 0.0
	for from < len(b.data) {
		to := from
		for to < len(b.data) && b.data[to].reading == b.data[from].reading {
			to++
		}
		sum += math.Log(b.noneReading(b.data[from:to]))
		from = to
	}
	return sum
}

// noneReading is the density of one reading: no value wrong, or one of them. A
// value that no vehicle like this can give, or no meter of the job can show, is wrong
// on a strange vehicle too; and there, too, a wrong one may be a slip.
func (b *Belief) noneReading(data []datum) float64 {
	eps := b.prior.Settings.Epsilon
	p, wrong := 0.0, -1 // the one that cannot be right
	for k := range data {
		if d := &data[k]; d.how == question.Measured && math.Abs(d.y) > b.most(d) {
			wrong = k
		}
	}
	if wrong < 0 {
		p = (1 - eps) * b.broad(data, -1)
	}
	for k := range data {
		if wrong >= 0 && wrong != k {
			continue
		}
		d := &data[k]
		p += eps * (anywhere*d.uniform() + eachSlip*normal(d.y, d.zero())) * b.broad(data, k)
		p += eps * b.broadSlipped(data, k)
	}
	return math.Max(p, 1e-300)
}

// broadSlipped is the density of a reading whose value k is a slip of one that a
// strange vehicle gives. Where it may be anything on the meter that is left out: it
// adds next to nothing there.
func (b *Belief) broadSlipped(data []datum, k int) float64 {
	if d := &data[k]; d.how != question.Measured || d.inBox() {
		return 0
	}
	p := 0.0
	right := slices.Clone(data)
	for _, t := range timesSlips {
		right[k] = data[k]
		right[k].y, right[k].s = data[k].y/t.times, data[k].s/math.Abs(t.times)
		if math.Abs(right[k].y) <= b.most(&right[k]) {
			p += t.share / math.Abs(t.times) * b.broad(right, -1)
		}
	}
	return p
}

// mostVolts is how many times its nominal voltage a vehicle may give: what an
// alternator throws whose battery is off while it turns (memory: 60 V and more for
// a moment at 12 V; a regulator that is stuck gives half as much again).
const mostVolts = 5

// most is the largest value that can be right: what the meter shows at its end, and
// in volts what such a vehicle can give. [SI]
func (b *Belief) most(d *datum) float64 {
	o := b.Readings[d.reading].Question.Seek[d.value]
	return b.prior.Most(o)
}

// Most is the largest size of a value that such a vehicle can give and the meter can
// show; +Inf where neither is known. [SI]
func (p *Prior) Most(o question.Observable) float64 {
	most := math.Inf(1)
	id := o.Meter
	if id == "" {
		id = meterByKind[o.Kind]
	}
	var over *meter.OverRange
	if m, ok := p.Meters[id]; ok {
		if _, err := m.Range(string(o.Kind), math.MaxFloat64); errors.As(err, &over) {
			most = over.Full
		}
	}
	if volts := p.Model.Sys.Volts; volts > 0 && (o.Kind == question.Volts || o.Kind == question.ACVolts) {
		most = math.Min(most, mostVolts*volts)
	}
	return most
}

// broad is the density of the values of a reading but one (-1 for all).
func (b *Belief) broad(data []datum, but int) float64 {
	uniform := 1.0
	for k := range data {
		if d := &data[k]; k != but {
			if d.how != question.Measured {
				uniform *= 0.5
			} else {
				uniform *= d.uniform()
			}
		}
	}
	return noneUniform*uniform + (1-noneUniform)*b.anyFault(data, but)
}

// anyFault is the joint density of a reading's values but one under the mixture
// of what every hypothesis predicts before any reading, widened.
func (b *Belief) anyFault(data []datum, but int) float64 {
	a := &b.asked[data[0].asked]
	r := b.prior.learn([]*prediction.Asked{a})[0]
	sum, weight := 0.0, 0.0
	for i := range r.of {
		j := r.joint(i)
		h := &b.Hyps[j.Hyp]
		if h.Intermittent || len(h.Faults) > 1 {
			continue
		}
		w := math.Exp(h.LogPrior) * j.Weight
		weight += w
		sum += w * widened(&j, data, but)
	}
	if weight == 0 {
		return 0
	}
	return sum / weight
}

// widened is the joint density of a reading's values but one under one widened
// prediction; an interval counts by its own probability.
func widened(j *Joint, data []datum, but int) float64 {
	n := len(j.Mean)
	var at []int
	p := 1.0
	for k := range data {
		d := &data[k]
		switch {
		case k == but:
		case d.how != question.Measured:
			p *= d.density(j.Mean[d.probe], math.Sqrt(d.s*d.s+noneWiden*j.Cov[d.probe*n+d.probe]))
		default:
			at = append(at, k)
		}
	}
	m := len(at)
	cov := make([]float64, m*m)
	y := make([]float64, m)
	for r, i := range at {
		for c, k := range at {
			cov[r*m+c] = noneWiden * j.Cov[data[i].probe*n+data[k].probe]
		}
		cov[r*m+r] += data[i].s * data[i].s
		y[r] = data[i].y - j.Mean[data[i].probe]
	}
	if !cholesky(cov, m) {
		return 0
	}
	z := append([]float64(nil), y...)
	cholSolve(cov, m, z)
	log := -dot(y, z)/2 - float64(m)*halfLog2Pi
	for r := range m {
		log -= math.Log(cov[r*m+r])
	}
	return p * math.Exp(log)
}

// noneLooks is the log evidence of none-of-these from the looks: a tenth of a
// uniform over the classes, the rest what all hypotheses say: what is not on the
// list looks like the things that are.
func (b *Belief) noneLooks() float64 {
	out := 0.0
	for _, l := range b.looks {
		sum, weight := 0.0, 0.0
		for i := range b.Hyps {
			h := &b.Hyps[i]
			w := math.Exp(h.LogPrior)
			sum += w * b.lookProb(l.table, h, l.showing, l.epoch)[l.class]
			weight += w
		}
		n := float64(len(l.table.Classes))
		out += math.Log(noneLook/n + (1-noneLook)*sum/weight)
	}
	return out
}
