package web

import (
	"fmt"
	"net/http"
	"time"
)

// beat is how often a live stream says that it is there, so that nothing on the
// way closes it.
const beat = 20 * time.Second

// A live stream ends after a while, and whoever wants more asks again: somebody
// who has signed out meanwhile is not told on. What a device does not take
// within sendWithin it does not get.
const (
	liveFor    = time.Hour
	sendWithin = 10 * time.Second
	mostLive   = 200 // streams at once: each holds a connection
)

// liveStream tells a page when its job has moved on.
func (s *Server) liveStream(w http.ResponseWriter, r *http.Request) {
	if s.streams.Add(1) > mostLive {
		s.streams.Add(-1)
		w.Header().Set("Retry-After", "60")
		s.sorry(w, r, http.StatusServiceUnavailable, "Too many pages are open", "This page does not hear of news by itself now: load it again to see them. Close pages that nobody looks at.")
		return
	}
	defer s.streams.Add(-1)
	stream := r.PathValue("job")
	notices, cancel := s.Journal.Subscribe(stream) // before the line is read, so that nothing falls between
	defer cancel()
	line, err := s.Journal.Line(r.Context(), stream)
	if err != nil {
		s.broken(w, r, errNoJob)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-cache")
	h.Set("X-Accel-Buffering", "no")
	out := http.NewResponseController(w)
	send := func(format string, args ...any) bool {
		// A stream lives longer than the server lets a page take.
		_ = out.SetWriteDeadline(time.Now().Add(sendWithin)) // where it cannot be set there is none
		_, err := fmt.Fprintf(w, format, args...)
		return err == nil && out.Flush() == nil
	}
	if !send("retry: 1000\nevent: moved\ndata: %d\n\n", line.Seq) {
		return
	}
	tick := time.NewTicker(beat)
	defer tick.Stop()
	end := time.NewTimer(liveFor)
	defer end.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-s.live.Done():
			return
		case <-end.C:
			return
		case <-tick.C:
			if !s.stillIn(r) || !send(": still here\n\n") {
				return
			}
		case n, more := <-notices:
			if !more || !s.stillIn(r) || !send("event: moved\ndata: %d\n\n", n.Seq) {
				return
			}
		}
	}
}

// stillIn says whether whoever asked is signed in still: a stream that was begun
// tells nothing to somebody who was signed out or withdrawn meanwhile.
func (s *Server) stillIn(r *http.Request) bool {
	if s.Accounts == nil {
		return true
	}
	good, err := s.Accounts.Good(r.Context(), cookie(r, s.sessionCookie()))
	return err == nil && good
}
