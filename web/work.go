package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
)

// work is a job as it was after an event, with what is made of it. It does not
// change.
type work struct {
	stream  string
	seq     int
	events  []job.Event
	job     *job.Job
	stand   *advice.Standing // nil when the vehicle is refused
	steps   bool             // stand says what comes next
	refused string
	papers  *papers
}

// works remembers jobs that were opened, by stream and event. What it holds
// follows from the journal.
type works struct {
	mu   sync.Mutex
	by   map[place]*work
	used []place // the latest last
	busy map[string]*turn
	seen map[string]*glance // by stream: what was looked at last before it was entered
}

type place struct {
	stream string
	seq    int
}

// remembered is how many states of jobs are kept, and ofOne how many of one job: as
// it is, as it was before the last reading (which the answer to it wants), and as
// it was hooked up between. So nobody's job is begun anew while others are busy:
// a hundred technicians have four each.
const (
	remembered = 400
	ofOne      = 4
)

func newWorks() *works {
	return &works{by: map[place]*work{}, busy: map[string]*turn{}, seen: map[string]*glance{}}
}

func (w *works) get(at place) *work {
	w.mu.Lock()
	defer w.mu.Unlock()
	x := w.by[at]
	if x != nil {
		w.touch(at)
	}
	return x
}

func (w *works) touch(at place) {
	if i := slices.Index(w.used, at); i >= 0 {
		w.used = slices.Delete(w.used, i, i+1)
	}
	w.used = append(w.used, at)
}

func (w *works) put(x *work) {
	w.mu.Lock()
	defer w.mu.Unlock()
	at := place{x.stream, x.seq}
	w.by[at] = x
	w.touch(at)
	own := 0
	for i := len(w.used) - 1; i >= 0; i-- { // the latest first
		if w.used[i].stream != x.stream {
			continue
		}
		if own++; own > ofOne {
			delete(w.by, w.used[i])
			w.used = slices.Delete(w.used, i, i+1)
		}
	}
	for len(w.used) > remembered {
		delete(w.by, w.used[0])
		w.used = w.used[1:]
	}
}

// from is what a state is best made from: the preview of its last event, or the
// state before.
func (w *works) from(stream string, events []job.Event) *work {
	n := len(events)
	w.mu.Lock()
	g, before := w.seen[stream], w.by[place{stream, n - 1}]
	w.mu.Unlock()
	if g != nil && g.of(n, events[n-1]) {
		if x, err := g.made(); err == nil { // one that is being worked on is waited for
			return x
		}
	}
	return before
}

// turn is a stream that somebody works on, and how many do or wait to.
type turn struct {
	sync.Mutex
	n int
}

// one lets one request at a time work on a stream, so that nothing is worked out
// twice: until what it returns is called. Nothing is kept of a stream that nobody
// works on.
func (w *works) one(stream string) (end func()) {
	w.mu.Lock()
	m := w.busy[stream]
	if m == nil {
		m = &turn{}
		w.busy[stream] = m
	}
	m.n++
	w.mu.Unlock()
	m.Lock()
	return func() {
		m.Unlock()
		w.mu.Lock()
		defer w.mu.Unlock()
		if m.n--; m.n == 0 {
			delete(w.busy, stream)
		}
	}
}

// errNoJob is the answer to a job that is not there.
var errNoJob = errors.New("there is no such job")

// open opens a job as it stands now.
func (s *Server) open(ctx context.Context, stream string) (*work, error) {
	seq, err := s.last(ctx, stream)
	if err != nil {
		return nil, err
	}
	return s.openAt(ctx, stream, seq)
}

// last is the last event of a job.
func (s *Server) last(ctx context.Context, stream string) (int, error) {
	line, err := s.Journal.Line(ctx, stream)
	if errors.Is(err, journal.ErrUnknown) {
		return 0, errNoJob // nothing is remembered of names that are none
	}
	return line.Seq, err
}

// openAt opens a job as it was after an event, with the steps that came next.
func (s *Server) openAt(ctx context.Context, stream string, seq int) (*work, error) {
	return s.stateAt(ctx, stream, seq, true)
}

// weighed is openAt for whoever asks nothing of the steps that came next: they are half
// of the work, and left out where they are not there. What shows a job asks for them
// (withSteps).
func (s *Server) weighed(ctx context.Context, stream string, seq int) (*work, error) {
	return s.stateAt(ctx, stream, seq, false)
}

// withSteps is a job with the steps that come next.
func (s *Server) withSteps(ctx context.Context, x *work) (*work, error) {
	if x.complete(true) {
		return x, nil
	}
	return s.openAt(ctx, x.stream, x.seq)
}

// complete says whether a state holds what is asked of it.
func (x *work) complete(steps bool) bool { return x != nil && (x.steps || x.stand == nil || !steps) }

func (s *Server) stateAt(ctx context.Context, stream string, seq int, steps bool) (*work, error) {
	if x := s.works.get(place{stream, seq}); x.complete(steps) {
		return x, nil
	}
	if _, err := s.last(ctx, stream); errors.Is(err, errNoJob) {
		return nil, err
	}
	s.engine.hurry(stream, urgencyOf(ctx)) // what is done on it already is waited for
	defer s.works.one(stream)()
	x := s.works.get(place{stream, seq})
	if x.complete(steps) {
		return x, nil
	}
	if x == nil {
		events, err := s.Journal.Read(ctx, stream, 0)
		if err != nil {
			return nil, err
		}
		if len(events) == 0 || events[0].Kind != job.Opened || seq < 1 || seq > len(events) {
			return nil, errNoJob
		}
		if x, err = s.made(ctx, events[:seq:seq], s.works.from(stream, events[:seq])); err != nil {
			return nil, err
		}
	}
	out := *x // what others hold stays as it is
	if steps && x.stand != nil {
		var err error
		if out.stand, err = s.planned(ctx, stream, x.stand); err != nil {
			return nil, err
		}
		out.steps = true
	}
	s.works.put(&out)
	return &out, nil
}

// folded is a job after events, not yet weighed, and what is to be weighed.
func (s *Server) folded(ctx context.Context, events []job.Event) (*work, advice.Input, error) {
	shelf, prepared, err := s.shelfOf(ctx, events[0])
	if err != nil {
		return nil, advice.Input{}, err
	}
	x := &work{events: events, stream: events[0].Stream, seq: len(events), papers: &papers{}}
	if x.job, err = job.Fold(events, shelf); err != nil {
		return nil, advice.Input{}, err
	}
	in := x.job.Input(shelf.PracticeOf(x.job.System), shelf.Catalogue)
	in.Prepared = prepared
	return x, in, nil
}

// made folds events and asks what they mean, not yet what comes next, going on from
// before where that is given: a state of the same job with no reading that these
// events lack.
func (s *Server) made(ctx context.Context, events []job.Event, before *work) (*work, error) {
	x, in, err := s.folded(ctx, events)
	if err != nil {
		return nil, err
	}
	var known *advice.Standing
	if before != nil {
		known = before.stand
	}
	weigh := func() { x.stand, err = s.weigh(ctx, known, in) }
	if known != nil && known.Quick(in) {
		weigh()
	} else {
		s.engine.do(urgencyOf(ctx), false, x.stream, weigh)
	}
	var refusal *advice.Refusal
	if errors.As(err, &refusal) {
		x.refused, err = refusal.What, nil
	}
	return x, err
}

// weigher asks what a job means, not yet what comes next, going on from before where that
// is given.
type weigher func(ctx context.Context, before *advice.Standing, in advice.Input) (*advice.Standing, error)

func weigh(ctx context.Context, before *advice.Standing, in advice.Input) (*advice.Standing, error) {
	if before == nil {
		return advice.Consider(ctx, in)
	}
	return before.Consider(ctx, in)
}

// planned is a job with the steps that come next.
func (s *Server) planned(ctx context.Context, stream string, of *advice.Standing) (out *advice.Standing, err error) {
	if of.Ranked() {
		return of.Planned()
	}
	s.engine.do(urgencyOf(ctx), true, stream, func() { out, err = of.Planned() })
	return out, err
}

// shelfOf is what a job may speak of: the system whose bytes its opening pins.
func (s *Server) shelfOf(ctx context.Context, opening job.Event) (job.Shelf, *advice.Prepared, error) {
	var b job.OpenedBody
	if err := json.Unmarshal(opening.Body, &b); err != nil {
		return job.Shelf{}, nil, fmt.Errorf("the opening of the job cannot be read: %w", err)
	}
	k, err := s.systems.pinned(ctx, b.System, b.SHA256)
	if err != nil {
		return job.Shelf{}, nil, err
	}
	prepared, err := k.prepare()
	return s.systems.shelf(k.system), prepared, err
}
