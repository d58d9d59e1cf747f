package web

import (
	"net/http"
	"net/url"
	"time"
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
