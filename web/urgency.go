package web

import (
	"context"
	"slices"
	"sync"
	"time"
)

// urgency says who waits for a piece of the engine's work.
type urgency int

const (
	nobody  urgency = iota // the next step of a job before it is asked for, first plans
	looking                // a look at what a reading would do
	waiting                // a page
	entered                // what a reading says that was just recorded
)

// How much runs at once. Each piece uses two cores where they are free, so more would
// only make everybody's answer later. A plan takes longest and is what is asked for
// least urgently: a second one waits, so that a reading always finds room.
const (
	mostAtOnce  = 2
	plansAtOnce = 1
)

// Busy is how many goroutines compute without a pause at most. With so many threads more
// than processors an answer, and each of its questions to a database, finds one at once and
// is let through by the system meanwhile; else it waits for theirs, ten milliseconds each
// time (docs/results.md).
const Busy = mostAtOnce * 2

// patienceOfAll is after how long something that was overtaken counts for one degree
// more: nothing waits for ever.
const patienceOfAll = 2 * time.Second

// queue lets pieces of the engine's work through, the most urgent first and, of one
// urgency, the one that came first.
type queue struct {
	mu      sync.Mutex
	running int
	plans   int // of those
	waits   []*piece
}

// piece is work that waits for its turn.
type piece struct {
	urgency urgency
	plan    bool
	of      string // the job
	since   time.Time
	turn    chan struct{} // closed when it has come
}

// do does a piece of work of a job when its turn has come.
func (q *queue) do(u urgency, plan bool, of string, work func()) {
	p := &piece{urgency: u, plan: plan, of: of, since: time.Now(), turn: make(chan struct{})}
	q.mu.Lock()
	q.waits = append(q.waits, p)
	q.next()
	q.mu.Unlock()
	<-p.turn
	defer q.end(p)
	work()
}

// hurry makes what waits of a job as urgent as whoever now waits for it.
func (q *queue) hurry(of string, u urgency) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for _, p := range q.waits {
		if p.of == of {
			p.urgency = max(p.urgency, u)
		}
	}
}

func (q *queue) end(p *piece) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.running--
	if p.plan {
		q.plans--
	}
	q.next()
}

// next begins what may begin now; what nobody waits for only while nothing else is done.
func (q *queue) next() {
	for q.running < mostAtOnce {
		now, best := time.Now(), -1
		for i, p := range q.waits {
			if p.plan && q.plans >= plansAtOnce || p.presses(now) == int(nobody) && q.running > 0 {
				continue
			}
			if best < 0 || p.presses(now) > q.waits[best].presses(now) {
				best = i
			}
		}
		if best < 0 {
			return
		}
		p := q.waits[best]
		q.waits = slices.Delete(q.waits, best, best+1)
		q.running++
		if p.plan {
			q.plans++
		}
		close(p.turn)
	}
}

// presses is how urgent a piece is after it has waited.
func (p *piece) presses(now time.Time) int {
	return int(p.urgency) + int(now.Sub(p.since)/patienceOfAll)
}

type urgencyKey struct{}

// urgent says how urgent what is done under a context is.
func urgent(ctx context.Context, u urgency) context.Context {
	return context.WithValue(ctx, urgencyKey{}, u)
}

// urgencyOf is a page's where nothing was said.
func urgencyOf(ctx context.Context) urgency {
	if u, ok := ctx.Value(urgencyKey{}).(urgency); ok {
		return u
	}
	return waiting
}
