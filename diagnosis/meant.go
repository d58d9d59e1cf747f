package diagnosis

import (
	"math"

	"chargewright/question"
)

// Values is how many numbers the job's readings hold.
func (b *Belief) Values() int { return len(b.data) }

// Meant is what a value that is wrong was most likely meant to be.
type Meant struct {
	Slip  Slip
	Value float64 // [SI]; NaN where nothing says it
	P     float64 // probability that it is this slip, where the value is wrong
}

// Meant says which slip made a value what it is, where it is wrong: every way of
// being wrong is weighed by what the fits that set the value aside predict in its
// place. ok is false when the value is likelier right than wrong, or no slip is likelier
// than all else.
func (b *Belief) Meant(reading, value int) (m Meant, ok bool) {
	at := -1
	for di := range b.data {
		if b.data[di].reading == reading && b.data[di].value == value {
			at = di
		}
	}
	if at < 0 || at >= MostDoubted || b.data[at].how != question.Measured {
		return m, false
	}
	d := &b.data[at]
	none, all, heard := 0.0, 0.0, 0.0
	times := make([]float64, len(timesSlips))
	for i := range b.Hyps {
		h := &b.Hyps[i]
		if b.post[i] < shownShare/10 || len(h.Fits) == 0 || h.Stale {
			continue
		}
		heard += b.post[i]
		w := fitWeights(h.Fits)
		for k := range h.Fits {
			f := &h.Fits[k]
			if !f.bad.has(at) || at >= len(f.h) || at >= len(f.g) {
				continue
			}
			right, sd := f.h[at], math.Hypot(d.s, math.Sqrt(f.variance(f.g[at])))
			share := b.post[i] * w[k] / d.wrongDensity(right, sd)
			all += b.post[i] * w[k]
			none += share * eachSlip * normal(d.y, d.zero())
			for t := range timesSlips {
				times[t] += share * timesSlips[t].share * d.slipped(timesSlips[t].times, right, sd)
			}
		}
	}
	if all <= 0.5*heard {
		return m, false
	}
	m = Meant{Slip: NoContact, Value: math.NaN(), P: none / all}
	for t, p := range times {
		if p/all > m.P {
			m = Meant{timesSlips[t].slip, d.y / timesSlips[t].times, p / all}
		}
	}
	return m, m.P > 0.5
}
