package diagnosis

import (
	"context"
	"errors"
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/stat/distuv"

	"chargewright/prediction"
	"chargewright/question"
)

// Remember gives a prior a memory of its own predictions that all jobs begun
// with it share. Without it every job has its own.
func (p *Prior) Remember() { p.memory = &memory{by: map[string][]Joint{}} }

// Begin returns the belief before any reading.
func Begin(pr Prior) (Belief, error) {
	if pr.Model == nil {
		return Belief{}, errors.New("diagnosis: a prior needs a compiled system")
	}
	if pr.memory == nil {
		pr.memory = &memory{by: map[string][]Joint{}}
	}
	b := Belief{prior: &pr}
	b.Hyps = pr.singles()
	b.LogNone = math.Log(pr.Settings.NonePrior)
	b.normalise()
	return b, nil
}

// Infer returns the belief after all readings, in their order.
func Infer(ctx context.Context, pr Prior, readings []question.Reading) (Belief, error) {
	b, err := Begin(pr)
	if err != nil {
		return b, err
	}
	return b.WithAll(ctx, readings)
}

// WithAll returns the belief with several readings added at once: the data are
// the same as one by one, and the fits are made once.
func (b Belief) WithAll(ctx context.Context, readings []question.Reading) (Belief, error) {
	nb := b.clone()
	if slices.ContainsFunc(readings, func(r question.Reading) bool { return r.Showing == question.DoingIt }) {
		nb.wakeIntermittent()
	}
	from := len(nb.data)
	lookFrom := len(nb.looks)
	for _, r := range readings {
		if err := nb.compile(r); err != nil {
			return b, err
		}
	}
	return nb, nb.update(ctx, from, lookFrom)
}

// With returns the belief with one more reading; the receiver is unchanged.
func (b Belief) With(r question.Reading) (Belief, error) {
	return b.WithAll(context.Background(), []question.Reading{r})
}

func (b *Belief) clone() Belief {
	nb := *b
	nb.Hyps = slices.Clone(b.Hyps)
	nb.Readings = slices.Clone(b.Readings)
	nb.data = slices.Clone(b.data)
	nb.looks = slices.Clone(b.looks)
	nb.asked = slices.Clone(b.asked)
	nb.post = slices.Clone(b.post)
	nb.Work = Work{}
	return nb
}

// update brings every hypothesis up to the data from index from on: first all
// are screened with the predictions of the fits they have, then those that
// still count are fitted anew.
func (b *Belief) update(ctx context.Context, from, lookFrom int) error {
	if len(b.data) > from {
		b.noneData(from)
	}
	b.noneLooks(lookFrom)
	before := b.post
	err := b.each(ctx, func(f *fitter, i int) {
		h := &b.Hyps[i]
		if len(b.data) > from && !h.sharesSound(b) {
			f.screen(h, from)
		}
		h.LogLooks = b.logLooks(h)
	})
	if err != nil {
		return err
	}
	b.shareSound()
	b.normalise()
	if len(b.data) > from {
		if err := b.refitLeading(ctx, before); err != nil {
			return err
		}
	}
	if err := b.wake(ctx); err != nil {
		return err
	}
	if b.pairsWanted() {
		if err := b.addPairs(ctx); err != nil {
			return err
		}
		b.normalise()
		return b.wake(ctx)
	}
	return nil
}

// Screening takes the values of a reading one by one and linearly. What counted
// for a hundredth of the job is fitted whatever it says; what counted for less
// is not when screening, widened as it is, leaves a thousandth of the lazy share.
const (
	alwaysFitted = 0.01
	screenedOut  = 1e-3
)

// refitLeading fits the hypotheses that counted before the new data or count
// after the screening.
func (b *Belief) refitLeading(ctx context.Context, before []float64) error {
	lazy := b.prior.Settings.Lazy
	floor := b.floor()
	err := b.each(ctx, func(f *fitter, i int) {
		h := &b.Hyps[i]
		f.floor = floor
		if h.Stale && !h.sharesSound(b) && (b.post[i] >= lazy || before[i] >= alwaysFitted || before[i] >= lazy && b.post[i] >= screenedOut*lazy) {
			f.refit(h)
		}
	})
	if err != nil {
		return err
	}
	b.shareSound()
	b.normalise()
	return nil
}

// floor is the log of prior times evidence that has a ten-thousandth of the
// job: branches below it are not fitted.
func (b *Belief) floor() float64 {
	logs := make([]float64, 0, len(b.Hyps)+1)
	for _, h := range b.Hyps {
		logs = append(logs, h.LogPrior+h.LogEvidence+h.LogLooks)
	}
	return logSumExp(append(logs, b.LogNone)) + math.Log(1e-4)
}

// each runs f over all hypotheses on the configured number of goroutines; a
// result depends only on its own hypothesis.
func (b *Belief) each(ctx context.Context, do func(*fitter, int)) error {
	n := max(1, b.prior.Settings.Workers)
	works := make([]Work, n)
	parallel(n, func(g int) {
		f := newFitter(b)
		defer f.done()
		for i := g; i < len(b.Hyps) && ctx.Err() == nil; i += n {
			do(f, i)
		}
		works[g] = f.work
	})
	for _, w := range works {
		b.Work.add(w)
	}
	return ctx.Err()
}

// parallel runs do for 0..n-1 at the same time.
func parallel(n int, do func(int)) {
	var wg sync.WaitGroup
	for g := range n {
		wg.Go(func() { do(g) })
	}
	wg.Wait()
}

// wake refits stale hypotheses whose share has come back, on all the data.
func (b *Belief) wake(ctx context.Context) error {
	for range 4 {
		var any atomic.Bool
		floor := b.floor()
		err := b.each(ctx, func(f *fitter, i int) {
			h := &b.Hyps[i]
			f.floor = floor
			if h.Stale && b.post[i] > b.prior.Settings.Lazy {
				f.refit(h)
				any.Store(true)
			}
		})
		if err != nil {
			return err
		}
		if !any.Load() {
			return nil
		}
		b.shareSound()
		b.normalise()
	}
	return nil
}

func (b *Belief) normalise() {
	logs := make([]float64, len(b.Hyps)+1)
	for i, h := range b.Hyps {
		logs[i] = h.LogPrior + h.LogEvidence + h.LogLooks
	}
	logs[len(b.Hyps)] = b.LogNone
	total := logSumExp(logs)
	b.post = make([]float64, len(b.Hyps))
	for i := range b.Hyps {
		b.post[i] = math.Exp(logs[i] - total)
	}
	b.none = math.Exp(b.LogNone - total)
}

// refit fits every component on all the data.
func (f *fitter) refit(h *Hyp) {
	f.h = h
	data := f.bel.data
	var all []fit
	seen := map[string]bool{}
	for _, c := range f.bel.prior.components(h) {
		starts := f.starts(h, c)
		all = append(all, f.branch(c, starts, data, seen)...)
	}
	h.Stale = false
	if len(all) == 0 {
		// Nothing solves under this hypothesis: it cannot have produced
		// the readings.
		h.Fits, h.LogEvidence = nil, math.Inf(-1)
		return
	}
	h.Fits, h.LogEvidence = keep(all)
}

type start struct {
	bad uint64
	z   []float64
	phi float64 // objective there, on the data it was fitted to
	n   int     // how many those were
}

// starts lists where to begin for a component: every kept set of wrong values,
// and always the empty set.
func (f *fitter) starts(h *Hyp, c weighted) []start {
	zero := make([]float64, f.bel.prior.Model.Dims())
	out := []start{{z: zero}}
	for _, k := range h.Fits {
		if k.comp != c.comp {
			continue
		}
		if k.bad == 0 {
			out[0] = start{0, k.z, k.phi, k.n}
		}
		for _, bad := range []uint64{k.bad, k.bad | k.doubt} {
			if bad != 0 {
				out = append(out, start{bad, k.z, k.phi, k.n})
			}
		}
	}
	return out
}

// branch fits from every start and follows the wrong-value branches that
// leave-one-out says are worth it.
func (f *fitter) branch(c weighted, starts []start, data []datum, seen map[string]bool) []fit {
	var out []fit
	for _, s := range starts {
		if done(out, s.bad) {
			continue
		}
		g, ok := f.best(c, s, data)
		if ok {
			g.logWeight = c.logWeight
			out = append(out, g)
		}
		if !ok || g.phi > s.phi+jolt {
			out = f.doubted(c, s, out, data)
		}
		if ok && g.phi < hopeless {
			out = f.flips(c, g, out, data)
		}
	}
	if best := topFit(out); best != nil && best.phi < hopeless {
		out = f.flips(c, *best, out, data)
	}
	return out
}

// jolt is the rise of the objective [nat] from which each new value is tried as
// wrong on its own, from where the fit stood before it came: a fit that was
// dragged far away no longer knows which value dragged it.
const jolt = 6

// doubted tries every new value as the wrong one.
func (f *fitter) doubted(c weighted, s start, out []fit, data []datum) []fit {
	for i := s.n; i < len(data); i++ {
		bad := s.bad | 1<<i
		if done(out, bad) {
			continue
		}
		if g, ok := f.run(c.comp, bad, s.z, data); ok {
			g.logWeight = c.logWeight
			out = append(out, g)
		}
	}
	return out
}

func topFit(fits []fit) *fit {
	var best *fit
	for i := range fits {
		if best == nil || fits[i].logEv > best.logEv {
			best = &fits[i]
		}
	}
	return best
}

func done(fits []fit, bad uint64) bool {
	return slices.ContainsFunc(fits, func(k fit) bool { return k.bad == bad })
}

// best fits from a start and, where the objective came out high, from zero
// too: the magnitude's posterior can have two tops.
func (f *fitter) best(c weighted, s start, data []datum) (fit, bool) {
	g, ok := f.run(c.comp, s.bad, s.z, data)
	const suspicious = 6
	if (!ok || g.phi > suspicious) && !isZero(s.z) {
		if o, ok2 := f.run(c.comp, s.bad, make([]float64, len(s.z)), data); ok2 && (!ok || o.phi < g.phi) {
			return o, true
		}
	}
	return g, ok
}

func isZero(z []float64) bool {
	for _, v := range z {
		if v != 0 {
			return false
		}
	}
	return true
}

const maxBad = 3

// worth reports whether a branch of about this log evidence would count.
func (f *fitter) worth(c weighted, logEv float64) bool {
	return f.h.LogPrior+f.h.LogLooks+c.logWeight+logEv > f.floor
}

// flips follows the most promising values taken as wrong, one at a time.
func (f *fitter) flips(c weighted, from fit, out []fit, data []datum) []fit {
	set := f.bel.prior.Settings
	cur := from
	for range maxBad {
		bestGain, bestRow := math.Inf(-1), -1
		for r, di := range cur.rows {
			gain := cur.logWrongOf(r, &data[di], set.Epsilon) - math.Log1p(-set.Epsilon) - cur.loo[r]
			if gain > set.Flip && !done(out, cur.bad|1<<di) && f.worth(c, cur.logEv+gain) {
				g, ok := f.run(c.comp, cur.bad|1<<di, cur.z, data)
				if ok {
					g.logWeight = c.logWeight
					out = append(out, g)
					if g.logEv > bestGain {
						bestGain, bestRow = g.logEv, len(out)-1
					}
				}
			}
		}
		if bestRow < 0 || bestGain < cur.logEv {
			return out
		}
		cur = out[bestRow]
	}
	return out
}

// keepNats is how far under the best a fit is still kept: e^-9 of the evidence.
const keepNats = 9

// keep drops hopeless fits and returns the log evidence of all.
func keep(fits []fit) ([]fit, float64) {
	logs := make([]float64, len(fits))
	top := math.Inf(-1)
	for i, k := range fits {
		logs[i] = k.logWeight + k.logEv
		top = math.Max(top, logs[i])
	}
	ev := logSumExp(logs)
	var out []fit
	for i, k := range fits {
		if logs[i] > top-keepNats {
			out = append(out, k)
		}
	}
	return out, ev
}

// screen adds the two-box predictive of the new data to a hypothesis of small
// share, without moving its fits.
func (f *fitter) screen(h *Hyp, from int) {
	f.h = h
	f.work.Screens++
	h.Stale = true
	h.Fits = slices.Clone(h.Fits)
	data := f.bel.data
	logs := make([]float64, len(h.Fits))
	for i := range h.Fits {
		k := &h.Fits[i]
		k.logEv += f.predictiveLog(k, from, data[from:])
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
	if f.evaluate(k.comp, k.z, data, true) != nil {
		sum := 0.0
		for _, d := range data {
			sum += math.Log(eps * anywhere / d.box)
		}
		return sum
	}
	sum := 0.0
	for i := range data {
		d := &data[i]
		s := math.Sqrt(d.s*d.s + widen*k.variance(f.rows[i]))
		right, wrong := (1-eps)*d.density(f.h0[i], s), eps*d.wrongDensity(f.h0[i], s)
		if wrong > right {
			k.doubt |= 1 << (from + i)
		}
		sum += math.Log(right + wrong)
	}
	return sum
}

// density is the probability (density) of a datum where the prediction is
// normal with mean h and total standard deviation s.
func (d *datum) density(h, s float64) float64 {
	n := distuv.Normal{Mu: h, Sigma: s}
	if d.how == question.Measured {
		return n.Prob(d.y)
	}
	p := 1.0
	if !math.IsInf(d.hi, 1) {
		p = n.CDF(d.hi)
	}
	if !math.IsInf(d.lo, -1) {
		p -= n.CDF(d.lo)
	}
	return math.Max(p, 1e-300)
}

type weighted struct {
	comp      prediction.Component
	logWeight float64
}

// Repair returns the belief after a repair. What the complaint did is evidence:
// a hypothesis whose faults are all cured says it is gone, but for the chance
// that the part fitted is itself bad.
func (b Belief) Repair(ctx context.Context, r Repaired) (Belief, error) {
	nb := b.clone()
	nb.repairs = append(slices.Clone(b.repairs), r)
	for i := range nb.Hyps {
		h := &nb.Hyps[i]
		left := len(nb.active(&Hyp{Faults: h.Faults}, question.DoingIt, len(nb.repairs)))
		h.LogPrior += logCured(r.Cured, left == 0)
	}
	nb.LogNone += logCured(r.Cured, false)
	nb.normalise()
	if r.Cured == No {
		nb.pairs = false // a second fault is likelier now: look again
	}
	return nb, nb.update(ctx, len(nb.data), len(nb.looks))
}

// stillThere is the probability that a complaint goes away although a fault
// remains (invented: it comes and goes).
const stillThere = 0.1

func logCured(c Cured, allCured bool) float64 {
	p := 1.0
	switch {
	case c == No && allCured:
		p = deadPart
	case c == No:
		p = 1 - stillThere
	case c == Yes && allCured:
		p = 1 - deadPart
	case c == Yes:
		p = stillThere
	}
	return math.Log(p)
}

// Repairs lists the repairs so far.
func (b *Belief) Repairs() []Repaired { return b.repairs }
