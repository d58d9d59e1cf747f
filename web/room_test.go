package web

import (
	"net/http"
	"net/http/httptest"
	"testing"
)

// TestRoomForTheHookUp: with three boxes the hook-up can be read beside the
// entry on a tablet; on a phone the entry covers no caution while leads go on,
// and stays at hand, in sizes for a glove, when all are on.
func TestRoomForTheHookUp(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	at := s.newJob(t)
	key := at + "?key=do:field-feed-key-on"
	wide := open(browser(t), t, server.URL, 1024, 768)
	wide.go_(key)
	const room = "document.querySelector('#entry').getBoundingClientRect().top - document.querySelector('.hook').getBoundingClientRect().top"
	if px := eval[float64](wide, room); px < 220 {
		t.Errorf("%.0f px of the hook-up can be read at 1024 x 768", px)
	}
	wide.fits("three boxes")
	narrow := open(browser(t), t, server.URL, 390, 844)
	narrow.go_(key)
	const sticks = "getComputedStyle(document.querySelector('#entry')).position"
	if how := eval[string](narrow, sticks); how != "static" {
		t.Errorf("while leads go on the entry is %s on a phone: it covers cautions", how)
	}
	f := s.get(t, key).form(t, at+"/hook-up", "line", "1", "line", "2")
	s.ask(t, http.MethodPost, at+"/hook-up", f).want(t, 303)
	narrow.go_(key)
	narrow.sees("Hooked up.")
	if how := eval[string](narrow, sticks); how != "sticky" {
		t.Errorf("when all leads are on the entry is %s on a phone", how)
	}
	if px := eval[float64](narrow, "document.querySelector('#entry').getBoundingClientRect().height"); px > 422 {
		t.Errorf("the entry takes %.0f px of a phone's 844", px)
	}
	narrow.fits("three boxes")
}
