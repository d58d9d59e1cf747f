package web

import (
	"bytes"
	"context"
	"slices"
	"sync"
	"sync/atomic"

	"chargewright/job"
)

// glance is a job with one more event that nobody has recorded: a reading that is
// looked at before it is entered. Most often the same is entered next, so what it
// means is kept, and what would come next is worked out meanwhile.
type glance struct {
	seq  int
	kind job.Kind
	body []byte
	made func() (*work, error) // once, however many ask

	ahead atomic.Bool // what would come next is being worked out, or waits to be
}

// of says whether it is of this event.
func (g *glance) of(seq int, e job.Event) bool {
	return g.seq == seq && g.kind == e.Kind && bytes.Equal(g.body, e.Body)
}

// glance finds the look at an event, or begins it.
func (w *works) glance(e job.Event, made func() (*work, error)) *glance {
	w.mu.Lock()
	defer w.mu.Unlock()
	if g := w.seen[e.Stream]; g != nil && g.of(e.Seq, e) {
		return g
	}
	if len(w.seen) >= remembered {
		clear(w.seen)
	}
	g := &glance{seq: e.Seq, kind: e.Kind, body: e.Body, made: sync.OnceValues(made)}
	w.seen[e.Stream] = g
	return g
}

// forget drops a look that came to nothing.
func (w *works) forget(stream string, g *glance) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.seen[stream] == g {
		delete(w.seen, stream)
	}
}

// hypothetical is a job with one more event that nobody has recorded. It does not
// say what comes next.
func (s *Server) hypothetical(ctx context.Context, w *work, e job.Event) (*work, error) {
	e.Stream, e.Seq = w.stream, w.seq+1
	anew := func() (*work, error) { return s.made(ctx, append(slices.Clone(w.events), e), w) }
	g := s.works.glance(e, anew)
	s.engine.hurry(w.stream, urgencyOf(ctx)) // it may wait for its turn, begun by somebody less urgent
	x, err := g.made()
	if err != nil {
		s.works.forget(w.stream, g)
		if ctx.Err() == nil { // whoever began it may have gone away
			x, err = anew()
		}
		return x, err
	}
	s.planAhead(g, x)
	return x, nil
}

// planAhead works out what comes next while somebody reads what a reading would do,
// when nobody waits for anything else. It is given up when the job has moved on.
func (s *Server) planAhead(g *glance, x *work) {
	if x.stand == nil || s.live.Err() != nil || !g.ahead.CompareAndSwap(false, true) {
		return
	}
	s.behind.Go(func() {
		s.engine.do(nobody, true, x.stream, func() {
			if s.live.Err() == nil && s.works.wanted(x.stream, g) {
				_, _ = x.stand.Planned() // who enters it is told
			}
		})
	})
}

// wanted says whether a look is still the last one at its job, and whether what it was
// at is what was entered, if anything was.
func (w *works) wanted(stream string, g *glance) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.seen[stream] != g {
		return false
	}
	for at, x := range w.by {
		if at.stream == stream && (at.seq > g.seq || at.seq == g.seq && !g.of(at.seq, x.events[at.seq-1])) {
			return false
		}
	}
	return true
}
