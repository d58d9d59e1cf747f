package web

import (
	"net/http"
	"strings"
	"testing"
)

// TestResentAfterTakingBack: a reading that was taken back and whose form is sent
// again is not recorded again; the page says what happened, keeps what was typed,
// and enters it anew when that is meant.
func TestResentAfterTakingBack(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:charge-volts").form(t, at+"/readings", "v0", "12,31", "u0", "V", "v1", "0.4 A", "showing", "yes")
	to := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
	s.undoLast(t, at)
	for range 2 {
		a := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 409, "It was taken back", "Nothing was recorded now", "Yours:", "12,31 V", "0.4 A", "Enter it again")
		if n := len(s.events(t, at)); n != 3 {
			t.Fatalf("%d events, want 3", n)
		}
		clean(t, a.body)
	}
	// Its address says the same, and offers what was recorded.
	a := s.get(t, to).want(t, 410, "It was taken back", "12.31", "Enter it again")
	clean(t, a.body)
	s.get(t, to+"/correct").want(t, 410, "It was taken back")
	g := s.ask(t, http.MethodPost, at+"/readings", f).form(t, at+"/readings")
	if g.Get("reading") != "r2" || g.Get("event") == f.Get("event") || g.Get("v0") != "12,31" || g.Get("showing") != "yes" {
		t.Errorf("it would be entered as %v", g)
	}
	anew := s.ask(t, http.MethodPost, at+"/readings", g).want(t, 303).Get("Location")
	s.get(t, anew).want(t, 200, "12.31")

	// From the page of the address alone, with nothing typed since.
	s.undoLast(t, at)
	h := s.get(t, anew).want(t, 410).form(t, at+"/readings")
	anew = s.ask(t, http.MethodPost, at+"/readings", h).want(t, 303).Get("Location")
	s.get(t, anew).want(t, 200, "12.31", "0.4")
	s.get(t, at+"/log").want(t, 200, "taken back")
}

// TestResentLook: the same for a look, whose answer is a word.
func TestResentLook(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:look-belt").form(t, at+"/readings", "v0", "sound and tight")
	to := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
	s.undoLast(t, at)
	h := s.get(t, to).want(t, 410, "sound and tight").form(t, at+"/readings")
	to = s.ask(t, http.MethodPost, at+"/readings", h).want(t, 303).Get("Location")
	s.get(t, to).want(t, 200, "Sound and tight")
}

// TestCorrectingWhatIsGone: whoever corrects a reading that somebody else took
// back meanwhile is told, and enters the corrected values as a new reading.
func TestCorrectingWhatIsGone(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	to := s.read(t, at, "battery-rest-volts", "12.41").want(t, 303).Get("Location")
	f := s.get(t, to+"/correct").want(t, 200).form(t, to+"/correct", "v0", "12.14", "u0", "V", "why", "two figures changed places")
	s.undoLast(t, at)
	a := s.ask(t, http.MethodPost, to+"/correct", f).want(t, 409, "Somebody else was here", "12.14 V", "two figures changed places")
	a = s.ask(t, http.MethodPost, to+"/correct", a.form(t, to+"/correct")).want(t, 410, "It was taken back", "12.14 V", "two figures changed places")
	anew := s.ask(t, http.MethodPost, at+"/readings", a.form(t, at+"/readings")).want(t, 303).Get("Location")
	s.get(t, anew).want(t, 200, "12.14")
}

// TestSentWithSomethingElse: a form that was sent before and now holds something
// else loses nothing: it can be entered as well.
func TestSentWithSomethingElse(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12.5", "u0", "V")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303)
	f.Set("v0", "12.6")
	a := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 409, "sent before", "12.50", "Yours:", "12.6 V", "Enter this as well")
	to := s.ask(t, http.MethodPost, at+"/readings", a.form(t, at+"/readings")).want(t, 303).Get("Location")
	s.get(t, to).want(t, 200, "12.60")
	if n := len(s.events(t, at)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
}

// TestConflictInAPart: where a script asked for a part of the page, what is in the
// way stands in place of all of it.
func TestConflictInAPart(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:drop-feed").form(t, at+"/hook-up", "line", "1")
	s.read(t, at, "look-belt", "sound and tight").want(t, 303)
	script := func(r *http.Request) { r.Header.Set("HX-Request", "true") }
	a := s.ask(t, http.MethodPost, at+"/hook-up", f, script).want(t, 409, "Somebody else was here")
	if a.Get("HX-Retarget") != "#main" || a.Get("HX-Reselect") != "#main" || !strings.Contains(a.body, `id="main"`) {
		t.Errorf("it goes to %q and shows %q", a.Get("HX-Retarget"), a.Get("HX-Reselect"))
	}
	if strings.Contains(a.body, "Enter mine") {
		t.Error("hook-up lines are offered on top of what nobody has looked at")
	}
}
