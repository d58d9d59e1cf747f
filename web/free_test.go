package web

import (
	"net/http"
	"strings"
	"testing"
)

// TestFreeLineByLine: the hook-up of a reading between two points is ticked line
// by line, or up to a line, as that of a proposed step, and leads to the reading.
func TestFreeLineByLine(t *testing.T) {
	s := theShop(t)
	for _, c := range []struct{ query, typed, shown string }{
		{"kind=ohms&red=f1&black=f2", "4.9", "4.9"}, {"kind=volts&red=stud&black=batp", "0.02", "20.0"}, {"kind=amps&through=w-charge", "0.1", "0.1"},
	} {
		at := s.newJob(t)
		page := s.get(t, at+"/free?"+c.query).want(t, 200, "Done up to the line ticked")
		clean(t, page.body)
		ticked := 0
		for ; ticked < 12; ticked++ {
			line := firstLine.FindStringSubmatch(page.body)
			if line == nil {
				break
			}
			f := page.form(t, at+"/hook-up", "line", line[1])
			to := s.ask(t, http.MethodPost, at+"/hook-up", f).want(t, 303).Get("Location")
			if !strings.HasPrefix(to, at+"/free?") {
				t.Fatalf("%s: a ticked line leads to %s", c.query, to)
			}
			page = s.get(t, to).want(t, 200)
		}
		if ticked == 0 {
			t.Fatalf("%s: there is no line to tick", c.query)
		}
		page.want(t, 200, "Hooked up.", "of the hook-up done since the last reading")
		to := s.ask(t, http.MethodPost, at+"/readings", page.form(t, at+"/readings", "v0", c.typed)).want(t, 303).Get("Location")
		s.get(t, to).want(t, 200, c.shown)
		if n := len(s.events(t, at)); n != ticked+2 {
			t.Errorf("%s: %d events, want the opening, %d lines and the reading", c.query, n, ticked)
		}
	}
	// Up to a line, with those before it.
	at := s.newJob(t)
	page := s.get(t, at+"/free?kind=ohms&red=f1&black=f2")
	to := s.ask(t, http.MethodPost, at+"/hook-up", page.form(t, at+"/hook-up", "line", "2")).want(t, 303).Get("Location")
	s.get(t, to).want(t, 200, "Hooked up.")
}

// TestNoLineTicked: the button without a tick says what is missing, on both pages.
func TestNoLineTicked(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	for _, page := range []string{at + "?key=do:drop-feed", at + "/free?kind=volts&red=stud&black=batp"} {
		f := s.get(t, page).form(t, at+"/hook-up")
		a := s.ask(t, http.MethodPost, at+"/hook-up", f).want(t, 422, "No line was ticked", "Tick the last one that is done")
		clean(t, a.body)
	}
	if n := len(s.events(t, at)); n != 1 {
		t.Errorf("%d events", n)
	}
}

// TestFreeWatchesToo: what must be watched or is against a rule stands on the page
// of a free reading as on the step's own.
func TestFreeWatchesToo(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"/stands").form(t, at+"/stands", "p-earth-cable", "off", "p-engine", "idle")
	s.ask(t, http.MethodPost, at+"/stands", f)
	step, free := s.get(t, at+"?key=do:battery-rest-volts"), s.get(t, at+"/free?kind=volts&red=stud&black=batp")
	if strings.Contains(step.body, "Not in this order") != strings.Contains(free.body, "Not in this order") {
		t.Error("only one of the pages says that the hook-up breaks a rule")
	}
}
