package web

import (
	"net/http"
	"testing"
)

// TestLatelyOnTheJob: the page of a job shows its latest entries with what they say and the
// way to correct them, the latest first, and the rest on its log; whoever takes no readings is
// shown no way to correct one.
func TestLatelyOnTheJob(t *testing.T) {
	s, cookies := staffed(t)
	s.readyFrom(t, theShop(t))
	owner := with(cookies["o"])
	f := s.ask(t, http.MethodGet, "/jobs/new", nil, owner).form(t, "/jobs", "kind", "low-charge", "system", theSystem, "meter", "dmm", "meter", "dc-clamp")
	at := s.ask(t, http.MethodPost, "/jobs", f, owner).want(t, 303).Get("Location")
	s.ask(t, http.MethodGet, at, nil, owner).want(t, 200).without(t, `id="lately"`)
	for _, values := range [][]string{{"battery-rest-volts", "12.41"}, {"look-belt", "sound and tight"}, {"battery-rest-volts", "12.42"}, {"battery-rest-volts", "12.43"}, {"battery-rest-volts", "12.44"}, {"battery-rest-volts", "12.45"}} {
		f := s.ask(t, http.MethodGet, at+"?key=do:"+values[0], nil, owner).form(t, at+"/readings", "v0", values[1])
		s.ask(t, http.MethodPost, at+"/readings", f, owner).want(t, 303)
	}
	a := s.ask(t, http.MethodGet, at, nil, owner).want(t, 200, `id="lately"`, "12.45", "12.42", "Sound and tight", at+"/readings/r6/correct", "the whole log")
	a.without(t, "12.41")
	s.ask(t, http.MethodGet, at, nil, with(cookies["a"])).want(t, 200, "12.45").without(t, "/correct")
}
