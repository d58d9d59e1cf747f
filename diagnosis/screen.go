package diagnosis

import (
	"context"
	"math"
	"slices"

	"chargewright/question"
)

// What had less than unlikely of the job before new data is screened only when it
// could come to more than possible of it, were each of them met exactly. Until then
// its evidence is that bound.
const (
	unlikely = 1e-5
	possible = 1e-6
)

// screenAll screens the hypotheses that the latest data could matter to.
func (b *Belief) screenAll(ctx context.Context) error {
	var first, rest []int
	now := b.shares(b.post)
	for i := range b.Hyps {
		switch h := &b.Hyps[i]; {
		case h.seen == len(b.data) || h.sharesSound(b):
		case now[i] >= unlikely:
			first = append(first, i)
		default:
			rest = append(rest, i)
		}
	}
	screen := func(f *fitter, i int) { f.screen(&b.Hyps[i]) }
	if err := b.eachOf(ctx, first, screen); err != nil {
		return err
	}
	logs := []float64{b.LogNone}
	for i := range b.Hyps {
		if h := &b.Hyps[i]; h.seen == len(b.data) {
			logs = append(logs, h.log())
		}
	}
	least := logSumExp(logs) + math.Log(possible)
	rest = slices.DeleteFunc(rest, func(i int) bool { return b.put(&b.Hyps[i], least) })
	return b.eachOf(ctx, rest, screen)
}

// log is the log of prior times evidence.
func (h *Hyp) log() float64 { return h.LogPrior + h.LogEvidence + h.LogLooks }

// put leaves a hypothesis unscreened that cannot reach least.
func (b *Belief) put(h *Hyp, least float64) bool {
	most := 0.0
	for i := max(h.seen, h.met); i < len(b.data); i++ {
		most += b.data[i].logMost()
	}
	if b.heard(h)+h.LogEvidence+most >= least {
		return false
	}
	h.LogEvidence += most
	h.met = len(b.data)
	h.Stale = true
	return true
}

// logMost is the most that the log density of a value can be.
func (d *datum) logMost() float64 {
	if d.how != question.Measured {
		return 0
	}
	return -math.Log(d.s) - halfLog2Pi
}

// screen adds what the new data say to a hypothesis of small share, without moving its
// fits: their two-box predictive, value by value, or what the linear model makes of all data at
// once where that is more. The first forgives what is wrong, the second learns from what was read: by
// the first alone a hypothesis that sleeps lost a little at every reading to those that are fitted.
func (f *fitter) screen(h *Hyp) {
	f.h = h
	from := h.seen
	h.seen, h.met = len(f.bel.data), 0
	f.work.Screens++
	h.Stale = true
	h.Fits = slices.Clone(h.Fits)
	data := f.bel.data
	logs := make([]float64, len(h.Fits))
	for i := range h.Fits {
		k := &h.Fits[i]
		k.logEv = math.Max(k.logEv+f.predictiveLog(k, from, data), f.together(k, data))
		logs[i] = k.logWeight + k.logEv
	}
	h.LogEvidence = logSumExp(logs)
}

// widen is how much wider a screened prediction is taken than its linear
// variance: a stale fit knows its place less well (inference.md).
const widen = 2.25

func (f *fitter) predictiveLog(k *fit, from int, data []datum) float64 {
	eps := f.bel.prior.Settings.Epsilon
	f.w.Begin()
	sum := 0.0
	k.z = append(slices.Clip(k.z), make([]float64, f.width()-len(k.z))...)
	known := k.n == 0 && !k.led && f.recall(k.blank, data, from)
	if !known && f.evaluate(k.comp, k.z, data, from) != nil {
		for _, d := range data[from:] {
			sum += math.Log(eps * anywhere * d.uniform())
		}
		return sum
	}
	f.extend(k, from, len(data))
	for i := from; i < len(data); i++ {
		d := &data[i]
		s := math.Sqrt(d.s*d.s + widen*k.variance(f.rows[i]))
		right, wrong := (1-eps)*d.density(f.h0[i], s), eps*d.wrongDensity(f.h0[i], s)
		if wrong > right {
			k.doubt = k.doubt.with(i)
		}
		sum += math.Log(right + wrong)
	}
	return sum
}

// together is the log evidence of a fit by the linear model of all data where it stands.
func (f *fitter) together(k *fit, data []datum) float64 {
	if len(k.h) != len(data) {
		return math.Inf(-1)
	}
	f.takeUp(k.h, k.g)
	out := fit{bad: k.bad, z: k.z}
	phi := f.objective(out.z, data, out.bad)
	if !f.linearise(&out, data) {
		return math.Inf(-1)
	}
	_, dec := f.direction(&out)
	return f.ceiling(&out, data) - math.Max(0, phi-dec)
}

// extend adds to a fit what was predicted of new data at its z.
func (f *fitter) extend(k *fit, from, n int) {
	if len(k.h) < from {
		return // earlier data did not solve there
	}
	k.h = append(slices.Clip(k.h[:from]), f.h0[from:n]...)
	k.g = slices.Clip(k.g[:from])
	for _, row := range f.rows[from:n] {
		k.g = append(k.g, slices.Clone(row))
	}
}
