package web

import (
	"fmt"
	"net/http"
	"time"
)

// beat is how often a live stream says that it is there, so that nothing on the
// way closes it.
const beat = 20 * time.Second

// liveStream tells a page when its job has moved on.
func (s *Server) liveStream(w http.ResponseWriter, r *http.Request) {
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
	// A stream lives longer than the server lets a page take.
	_ = out.SetWriteDeadline(time.Time{}) // where it cannot be set there is none
	send := func(format string, args ...any) bool {
		_, err := fmt.Fprintf(w, format, args...)
		return err == nil && out.Flush() == nil
	}
	if !send("retry: 1000\nevent: moved\ndata: %d\n\n", line.Seq) {
		return
	}
	tick := time.NewTicker(beat)
	defer tick.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-s.live.Done():
			return
		case <-tick.C:
			if !send(": still here\n\n") {
				return
			}
		case n, more := <-notices:
			if !more || !send("event: moved\ndata: %d\n\n", n.Seq) {
				return
			}
		}
	}
}
