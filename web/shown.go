package web

import (
	"context"
	"net/http"
	"net/url"
	"time"

	"chargewright/job"
	"chargewright/web/page"
)

// shown is a page for a script that puts it in the place of the one that stands
// there: what its address would bring, within the answer that leads to it. "" where
// none is asked for, and where it takes longer than a page may: the script then
// goes to the address.
func (s *Server) shown(r *http.Request, to string, code int, page http.HandlerFunc) string {
	at, err := url.Parse(to)
	if r.FormValue("show") == "" || err != nil {
		return ""
	}
	g := r.Clone(r.Context())
	g.Method, g.URL, g.RequestURI = http.MethodGet, at, to
	x := &late{done: make(chan struct{})}
	s.behind.Go(func() {
		defer close(x.done)
		x.answer = s.answered(page, g)
	})
	wait := s.Patience
	if wait <= 0 {
		wait = time.Hour // as long as it takes
	}
	if !awaited(r, x, wait) || x.answer.code != code {
		return ""
	}
	return x.answer.body.String()
}

// moment is how long an answer waits for the next step: what it says of the reading
// is there before, and the script fetches the step when it is.
const moment = 15 * time.Millisecond

// shownVerdict is what a reading that was just recorded means, for a script that
// puts it in place, without what comes next where that is still being worked out.
func (s *Server) shownVerdict(r *http.Request, x *work, e job.Event, id string) string {
	to := "/jobs/" + x.stream + "/readings/" + id
	return s.shown(r, to, http.StatusOK, func(w http.ResponseWriter, r *http.Request) {
		r.SetPathValue("reading", id)
		r = r.WithContext(urgent(r.Context(), entered))
		planned := make(chan struct{})
		_, err := s.hypothetical(r.Context(), x, e) // most often it was looked at before
		s.behind.Go(func() {
			defer close(planned)
			_, _ = s.openAt(urgent(r.Context(), waiting), x.stream, x.seq+1) // who asks for the page is told
		})
		select {
		case <-planned:
		case <-time.After(moment):
			then, broken := s.considered(r.Context(), x)
			if entry, b, ok := entryOf(then, id); err == nil && broken == nil && ok {
				v := s.verdictOf(r, then, entry, b, then, x)
				v.Soon, v.NextNote = to, "The next step is being worked out"
				s.show(w, r, http.StatusOK, page.VerdictPage(v))
				return
			}
		}
		s.verdictPage(w, r)
	})
}

// considered is a job after one more event, without what comes next. Nil: it has
// moved on further.
func (s *Server) considered(ctx context.Context, x *work) (*work, error) {
	events, err := s.Journal.Read(ctx, x.stream, 0)
	if err != nil || len(events) != x.seq+1 {
		return nil, err
	}
	return s.made(ctx, events, s.works.from(x.stream, events))
}
