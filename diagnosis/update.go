package diagnosis

import (
	"cmp"
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
func (p *Prior) Remember() { p.memory = newMemory() }

// Begin returns the belief before any reading.
func Begin(pr Prior) (Belief, error) {
	if pr.Model == nil {
		return Belief{}, errors.New("diagnosis: a prior needs a compiled system")
	}
	if pr.memory == nil {
		pr.memory = newMemory()
	}
	b := Belief{prior: &pr}
	b.Hyps = pr.singles()
	b.nonePrior = math.Log(pr.Settings.NonePrior)
	b.LogNone = b.nonePrior
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

// WithAll returns the belief with several readings added: in parts of a few values,
// as each of the latest few is tried as the wrong one. Pairs are looked for when
// all are in.
func (b Belief) WithAll(ctx context.Context, readings []question.Reading) (Belief, error) {
	nb := b.clone()
	if slices.ContainsFunc(readings, func(r question.Reading) bool { return r.Showing == question.DoingIt }) {
		nb.wakeIntermittent()
	}
	from := len(nb.data)
	for i, r := range readings {
		if err := nb.compile(r); err != nil {
			return b, err
		}
		last := i == len(readings)-1
		if !last && len(nb.data)+len(readings[i+1].Values) <= from+fewNew {
			continue
		}
		if err := nb.update(ctx, from, last); err != nil {
			return b, err
		}
		from = len(nb.data)
	}
	return nb, nil
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
// still count are fitted anew. Pairs are looked for when pairs is set.
func (b *Belief) update(ctx context.Context, from int, pairs bool) error {
	b.noneNumbers += b.noneReadings(from)
	b.LogNone = b.nonePrior + b.noneNumbers + b.noneLooks()
	before := b.shares(b.post)
	for i := range b.Hyps {
		b.Hyps[i].stood = before[i]
		b.Hyps[i].LogLooks = b.logLooks(&b.Hyps[i])
	}
	if err := b.screenAll(ctx); err != nil {
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
	if pairs && b.pairsWanted() {
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
	return b.refitAll(ctx, func(i int, now float64) bool {
		return now >= lazy || before[i] >= alwaysFitted || before[i] >= lazy && now >= screenedOut*lazy
	})
}

// refitAll fits the stale hypotheses that count, the likeliest first: what they
// reach is the floor for the rest.
func (b *Belief) refitAll(ctx context.Context, counts func(i int, share float64) bool) error {
	now := b.shares(b.post)
	var todo []int
	for i := range b.Hyps {
		if h := &b.Hyps[i]; h.Stale && !h.sharesSound(b) && counts(i, now[i]) {
			todo = append(todo, i)
		}
	}
	slices.SortStableFunc(todo, func(x, y int) int { return cmp.Compare(now[y], now[x]) })
	rising := newFloors(b, todo)
	err := b.eachOf(ctx, numbers(len(todo)), func(f *fitter, k int) {
		f.floor = rising.of(k)
		h := &b.Hyps[todo[k]]
		f.refit(h)
		rising.done(k, h)
	})
	b.shareSound()
	b.normalise()
	return err
}

// floor is the log of prior times evidence that counts beside what was fitted: fits
// that cannot reach it are not finished.
func (b *Belief) floor() float64 {
	return b.fitted() + math.Log(counted)
}

// counted is the share of the job from which a fit is finished: half of what a
// hypothesis needs to be fitted at all.
const counted = 5e-4

// fitted is the log of prior times evidence of all that was fitted.
func (b *Belief) fitted() float64 {
	logs := []float64{b.LogNone}
	for i := range b.Hyps {
		if h := &b.Hyps[i]; !h.Stale {
			logs = append(logs, h.log())
		}
	}
	return logSumExp(logs)
}

// each runs do over all hypotheses.
func (b *Belief) each(ctx context.Context, do func(*fitter, int)) error {
	return b.eachOf(ctx, numbers(len(b.Hyps)), do)
}

// numbers are 0 to n-1.
func numbers(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// eachOf runs do over some hypotheses on the configured number of goroutines,
// each taking the next one that is left; a result depends only on its own
// hypothesis.
func (b *Belief) eachOf(ctx context.Context, which []int, do func(*fitter, int)) error {
	if len(which) == 0 {
		return ctx.Err()
	}
	n := max(1, b.prior.Settings.Workers)
	works := make([]Work, n)
	var taken atomic.Int64
	parallel(n, func(g int) {
		f := newFitter(b)
		defer f.done()
		for ctx.Err() == nil {
			k := int(taken.Add(1)) - 1
			if k >= len(which) {
				break
			}
			do(f, which[k])
		}
		works[g] = f.spent()
	})
	for _, w := range works {
		b.Work.Add(w)
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
		if err := b.screenAll(ctx); err != nil {
			return err
		}
		b.normalise()
		fits := b.Work.Fits
		err := b.refitAll(ctx, func(_ int, share float64) bool { return share > b.prior.Settings.Lazy })
		if err != nil || b.Work.Fits == fits {
			return err
		}
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

// density is the probability (density) of a datum where the prediction is
// normal with mean h and total standard deviation s.
func (d *datum) density(h, s float64) float64 {
	if d.how == question.Measured {
		return distuv.Normal{Mu: h, Sigma: s}.Prob(d.y)
	}
	logp, _, _ := cutOff((d.lo-h)/s, (d.hi-h)/s)
	return math.Max(math.Exp(logp), 1e-300)
}

type weighted struct {
	comp      prediction.Component
	logWeight float64
	blank     int // its place, from 1
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
	nb.nonePrior += logCured(r.Cured, false)
	nb.LogNone = nb.nonePrior + nb.noneNumbers + nb.noneLooks()
	nb.normalise()
	if r.Cured == No {
		nb.pairs = false // a second fault is likelier now: look again
	}
	return nb, nb.update(ctx, len(nb.data), true)
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

// Noted returns the belief with a reading written down and not weighed: for
// those who do not reason from it.
func (b Belief) Noted(r question.Reading) Belief {
	b.Readings = append(slices.Clone(b.Readings), r)
	return b
}
