package diagnosis

import (
	"math"
	"sync"
)

// behind is how many fits the floor of a fit is behind: as many can go on at the
// same time.
const behind = 4

// floors hands every fit of a row its floor, from the fits of the row up to behind
// before it. Which of the others have ended by then depends on the cores and the
// clock, and does not count.
type floors struct {
	mu    sync.Mutex
	ended *sync.Cond
	b     *Belief
	logs  []float64 // what a fit came to, NaN until it has ended
	upTo  []float64 // log of all before the row and of its first fits, as many as have ended without a gap, one more each
}

func newFloors(b *Belief, row []int) *floors {
	r := &floors{b: b, logs: make([]float64, len(row)), upTo: []float64{b.fitted()}}
	for k := range r.logs {
		r.logs[k] = math.NaN()
	}
	r.ended = sync.NewCond(&r.mu)
	return r
}

// of waits until the fits that floor number k rests on have ended. They were begun
// before it, so that they end.
func (r *floors) of(k int) float64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	n := max(0, k-behind)
	for len(r.upTo) <= n {
		r.ended.Wait()
	}
	return r.upTo[n] + math.Log(counted)
}

// done says what fit number k came to; one that was left asleep counts for nothing.
func (r *floors) done(k int, h *Hyp) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.logs[k] = math.Inf(-1)
	if log := r.b.heard(h) + h.LogEvidence; !h.Stale && !math.IsNaN(log) { // NaN would stand for one that has not ended: nobody waits for that
		r.logs[k] = log
	}
	for n := len(r.upTo) - 1; n < len(r.logs) && !math.IsNaN(r.logs[n]); n++ {
		r.upTo = append(r.upTo, logSumExp([]float64{r.upTo[n], r.logs[n]}))
	}
	r.ended.Broadcast()
}
