package web

import (
	"context"
	"net/http"
	"slices"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/question"
	"chargewright/web/page"
)

// The answer to a reading waits for nobody (note 039): what the reading is against its
// limits needs no cause, so it is said at once; what it does to the causes and what
// comes next follow into the same page when they are there.
const (
	untilCauses = 120 * time.Millisecond // that the causes are waited for: an answer before feels as if it came at once
	moment      = 15 * time.Millisecond  // that the next step is waited for then
)

// shownVerdict is what a reading that was just recorded means, for a script that
// puts it in place, without what is still being worked out.
func (s *Server) shownVerdict(r *http.Request, x *work, e job.Event, id string) string {
	to := "/jobs/" + x.stream + "/readings/" + id
	return s.shown(r, to, http.StatusOK, func(w http.ResponseWriter, r *http.Request) {
		r.SetPathValue("reading", id)
		r = r.WithContext(urgent(r.Context(), entered))
		weighed, planned := make(chan struct{}), make(chan struct{})
		s.behind.Go(func() {
			defer close(planned)
			_, _ = s.hypothetical(r.Context(), x, e) // most often it was looked at before
			close(weighed)
			_, _ = s.openAt(urgent(r.Context(), waiting), x.stream, x.seq+1) // who asks for the page is told
		})
		if !within(untilCauses, weighed) && s.earlyVerdict(w, r, x, id) {
			return
		}
		if <-weighed; !within(moment, planned) && s.soonVerdict(w, r) {
			return
		}
		s.verdictPage(w, r)
	})
}

// within waits for something for so long, and says whether it is there.
func within(wait time.Duration, there <-chan struct{}) bool {
	end := time.NewTimer(wait)
	defer end.Stop()
	select {
	case <-there:
		return true
	case <-end.C:
		return false
	}
}

// earlyVerdict says what a reading is against its limits, from the state before it.
// False: nothing was sent, since that is not all there is to say.
func (s *Server) earlyVerdict(w http.ResponseWriter, r *http.Request, before *work, id string) bool {
	x, rd, err := s.judged(r.Context(), before, id)
	if err != nil || rd == nil {
		return false
	}
	e, b, found := entryOf(x, id)
	if !found {
		return false
	}
	base := "/jobs/" + x.stream
	v := s.verdictAround(r, x, e, b)
	v.Change = advice.Change{Reading: rd, Headline: rd.Headline(), Before: before.stand.Portions()}
	v.Taken = s.taken(rd.Name, e)
	v.Pending, v.Soon, v.NextNote = true, base+"/readings/"+id+"?soon=yes", "The next step is being worked out"
	s.show(w, r, http.StatusOK, page.VerdictPage(v))
	return true
}

// judged is a job after one more event than before, which brought a reading: held
// against its limits, not yet weighed. Nil: it did not, or the job has moved on.
func (s *Server) judged(ctx context.Context, before *work, id string) (*work, *advice.Reading, error) {
	events, err := s.Journal.Read(ctx, before.stream, 0)
	if err != nil || len(events) != before.seq+1 || before.stand == nil {
		return nil, nil, err
	}
	x, in, err := s.folded(ctx, events)
	if err != nil {
		return nil, nil, err
	}
	i := slices.IndexFunc(in.Readings, func(r question.Reading) bool { return r.ID == id })
	if i < 0 {
		return nil, nil, nil
	}
	rd, err := before.stand.Reading(in, &before.stand.Belief, i)
	return x, rd, err
}

// soonVerdict says what a reading means as the job stands now, without what comes next
// where that is still being worked out. False: nothing was sent, since all is there, or
// there is something else to say.
func (s *Server) soonVerdict(w http.ResponseWriter, r *http.Request) bool {
	x, err := s.weighedSoon(r.Context(), r.PathValue("job"))
	if err != nil || x.stand == nil || x.complete(true) {
		return false
	}
	e, b, found := entryOf(x, r.PathValue("reading"))
	if !found {
		return false
	}
	before, err := s.weighed(r.Context(), x.stream, e.Seq-1)
	if err != nil {
		return false
	}
	then := x
	if e.Seq != x.seq {
		if then, err = s.weighed(r.Context(), x.stream, e.Seq); err != nil {
			return false
		}
	}
	v := s.verdictOf(r, x, e, b, then, before)
	v.Soon, v.NextNote = "/jobs/"+x.stream+"/readings/"+b.ID, "The next step is being worked out"
	s.show(w, r, http.StatusOK, page.VerdictPage(v))
	return true
}

// weighedSoon is a job as it stands, without what comes next, and without waiting for
// whoever works that out.
func (s *Server) weighedSoon(ctx context.Context, stream string) (*work, error) {
	seq, err := s.last(ctx, stream)
	if err != nil {
		return nil, err
	}
	if x := s.works.get(place{stream, seq}); x.complete(false) {
		return x, nil
	}
	events, err := s.Journal.Read(ctx, stream, 0)
	if err != nil {
		return nil, err
	}
	if near := s.works.from(stream, events); near != nil {
		return s.made(ctx, events, near)
	}
	return s.weighed(ctx, stream, seq)
}
