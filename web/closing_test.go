package web

import (
	"crypto/sha256"
	"encoding/json"
	"net/http"
	"net/url"
	"reflect"
	"strings"
	"sync"
	"testing"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
)

// stateIn is where a job stands in the list.
func (s *shop) stateIn(t *testing.T, at string) int {
	t.Helper()
	l, err := s.book.Line(t.Context(), strings.TrimPrefix(at, "/jobs/"))
	if err != nil {
		t.Fatal(err)
	}
	return stateOf(l)
}

func (s *shop) undoLast(t *testing.T, at string) {
	t.Helper()
	s.ask(t, http.MethodPost, at+"/undo", s.get(t, at+"/log").want(t, 200).form(t, at+"/undo")).want(t, 303)
}

func (s *shop) signOff(t *testing.T, at string) url.Values {
	t.Helper()
	f := s.get(t, at+"/report").want(t, 200).form(t, at+"/sign", "gone", "yes", "note", "thank you")
	s.ask(t, http.MethodPost, at+"/sign", f).want(t, 303)
	return f
}

// reopen opens a signed job again, saying what the complaint does now.
func (s *shop) reopen(t *testing.T, at, why, complaint string) {
	t.Helper()
	f := s.get(t, at+"/reopen").want(t, 200).form(t, at+"/reopen", "why", why, "complaint", complaint)
	s.ask(t, http.MethodPost, at+"/reopen", f).want(t, 303)
}

// asMadeAnew holds what a job's pages rest on against the same events worked out
// from the beginning.
func (s *shop) asMadeAnew(t *testing.T, at string) {
	t.Helper()
	x, err := s.open(t.Context(), strings.TrimPrefix(at, "/jobs/"))
	if err != nil {
		t.Fatal(err)
	}
	fresh, err := s.made(t.Context(), x.events, nil)
	if err != nil {
		t.Fatal(err)
	}
	if fresh.stand, err = fresh.stand.Planned(); err != nil {
		t.Fatal(err)
	}
	type seen struct {
		portions []advice.Portion
		next     string
		readings int
	}
	of := func(x *work) seen {
		out := seen{portions: x.stand.Portions(), readings: len(x.job.Readings)}
		for i := range out.portions {
			out.portions[i].Letter = "" // letters follow the way, so that none changes its cause
		}
		if len(x.stand.Advice.Next) > 0 {
			out.next = x.stand.Advice.Next[0].Name
		}
		return out
	}
	if a, b := of(x), of(fresh); !reflect.DeepEqual(a, b) {
		t.Errorf("after event %d the pages rest on\n%+v\nand made anew on\n%+v", x.seq, a, b)
	}
}

// TestUndoneRepair: a repair that is taken back leaves the job as it was before
// it, in the list, in the log and in what is advised; the entry stays.
func TestUndoneRepair(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	s.read(t, at, "battery-rest-volts", "12.41").want(t, 303)
	f := s.get(t, at+"/repair?mend=clean-clamps").want(t, 200).form(t, "", "repair", "clean-clamps", "what", "wrong vehicle", "cured", "yes")
	s.ask(t, http.MethodPost, at+"/repair", f).want(t, 303)
	if got := s.stateIn(t, at); got != stateProve {
		t.Errorf("after the repair it stands under %q", stateNames[got])
	}
	s.undoLast(t, at)
	if got := s.stateIn(t, at); got != stateReady {
		t.Errorf("without the repair it stands under %q", stateNames[got])
	}
	s.asMadeAnew(t, at)
	s.get(t, at+"/log").want(t, 200, "wrong vehicle", "The last entry taken back", "Take back the last: a reading")
	if n := len(s.events(t, at)); n != 4 {
		t.Errorf("%d events, want 4", n)
	}
	// Sent once more, the form records nothing and says so: it is the entry that was
	// taken back.
	s.ask(t, http.MethodPost, at+"/repair", f).want(t, 409, "It was taken back", "Enter it again", "wrong vehicle")
	if n := len(s.events(t, at)); n != 4 || s.stateIn(t, at) != stateReady {
		t.Errorf("%d events, state %q", n, stateNames[s.stateIn(t, at)])
	}
}

// TestSignedThenChanged: a signature is not taken back. A reading that comes in
// after it is recorded and opens the job again, and the report says that it was
// signed; taken back, the signature stands as it stood, whatever the last event is.
func TestSignedThenChanged(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	s.read(t, at, "battery-rest-volts", "12.41").want(t, 303)
	form := s.signOff(t, at)
	signed := s.events(t, at)
	s.ask(t, http.MethodPost, at+"/sign", form).want(t, 303) // the same form again
	if n := len(s.events(t, at)); n != len(signed) {
		t.Fatalf("%d events after the same signature twice, want %d", n, len(signed))
	}
	undo := url.Values{"event": {journal.NewID(s.Now())}, "seen": {"3"}}
	s.ask(t, http.MethodPost, at+"/undo", undo).want(t, 422, "a signature stay")

	s.sent(t, at, s.waits(3, "battery-rest-volts", "12.55"), 200) // by a device that had its page open
	if got := s.stateIn(t, at); got != stateReady {
		t.Errorf("worked on again it stands under %q", stateNames[got])
	}
	a := s.get(t, at+"/report").want(t, 200, "It was signed before", "as event 3", "stays in the journal", "Sign it off")
	if sheet, _, _ := strings.Cut(a.body, `id="signed"`); strings.Contains(sheet, "thank you") {
		t.Error("what was written to the first signature stands on the new sheet")
	}
	s.undoLast(t, at)
	if got := s.stateIn(t, at); got != stateSigned {
		t.Errorf("with the reading taken back it stands under %q", stateNames[got])
	}
	s.asMadeAnew(t, at)
	a = s.get(t, at+"/report").want(t, 200, "thank you")
	if strings.Contains(a.body, "It was signed before") {
		t.Error("the sheet that is signed says that it was signed before")
	}
	now := s.events(t, at)
	for i, e := range signed {
		if e.ID != now[i].ID || string(e.Body) != string(now[i].Body) {
			t.Errorf("event %d is not what it was", i+1)
		}
	}
	if len(now) != len(signed)+2 || now[2].Kind != job.Signed {
		t.Errorf("%d events", len(now))
	}
}

// TestEverySignedSheetStays: after a second signature the first sheet is there
// still, as page and PDF, with what it said, and the report lists both: which hash
// was signed when.
func TestEverySignedSheetStays(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t, "note", "Van signed twice")
	s.read(t, at, "battery-rest-volts", "12.41").want(t, 303)
	s.signOff(t, at)
	first := s.events(t, at)[2]
	sheet := s.get(t, at+"/signed/3").want(t, 200, "12.41", "thank you", "as it was signed").body
	s.reopen(t, at, "came back", "back")
	s.read(t, at, "battery-rest-volts", "12.55").want(t, 303)
	s.signOff(t, at)
	second := s.events(t, at)[5]
	page := s.get(t, at+"/report").want(t, 200, "Signed sheets", "Sheet 1, signed", "Sheet 2, signed", at+"/signed/3", at+"/signed/6").body
	for _, e := range []job.Event{first, second} {
		var b job.SignedBody
		if err := json.Unmarshal(e.Body, &b); err != nil {
			t.Fatal(err)
		}
		sum := journal.Sum(sha256.Sum256(b.Report)).String()
		for what, want := range map[string]string{"journal's head": b.Head, "sheet's hash": sum, "time": e.Recorded.Format("2 January 2006, 15:04")} {
			if !strings.Contains(page, want) {
				t.Errorf("the report lacks the %s of event %d, %s", what, e.Seq, want)
			}
		}
	}
	if a := s.get(t, at+"/signed/3").want(t, 200); strings.Contains(a.body, "12.55") || len(a.body) < len(sheet) {
		t.Error("the first sheet holds what came after it")
	}
	s.get(t, at+"/signed/6").want(t, 200, "12.41", "12.55")
	a := s.get(t, at+"/signed/3/report.pdf").want(t, 200, "%PDF-")
	if name := a.Get("Content-Disposition"); !strings.Contains(name, "signed-3-") {
		t.Errorf("it is called %s", name)
	}
	for _, none := range []string{"1", "2", "4", "5", "7", "x", "-1"} {
		s.get(t, at+"/signed/"+none).want(t, 404, "no such sheet")
	}
}

// TestWhoSigned: the sheet names who signed it, whoever looks, under the name
// that the account has.
func TestWhoSigned(t *testing.T) {
	s, _ := signedShop(t)
	in := s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing")).want(t, 303)
	as := with(session(in))
	get := func(path string) answer { return s.ask(t, http.MethodGet, path, nil, as) }
	f := get("/jobs/new").want(t, 200).form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm")
	at := s.ask(t, http.MethodPost, "/jobs", f, as).want(t, 303).Get("Location")
	f = get(at+"/report").want(t, 200).form(t, at+"/sign", "gone", "unknown")
	s.ask(t, http.MethodPost, at+"/sign", f, as).want(t, 303)
	get(at+"/report").want(t, 200, "by Owner", "Not known yet whether the complaint is gone")
	get(at+"/signed/2").want(t, 200, "by Owner")
}

// TestTwoSign: of two who sign at once one is told of the other, and nothing is
// signed twice.
func TestTwoSign(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	mine := s.get(t, at+"/report").form(t, at+"/sign", "gone", "no")
	s.signOff(t, at)
	a := s.ask(t, http.MethodPost, at+"/sign", mine).want(t, 409, "Somebody else was here", "Signed off")
	if strings.Contains(a.body, "on top") {
		t.Error("a second signature is offered without a look at the sheet")
	}
	if n := len(s.events(t, at)); n != 2 {
		t.Errorf("%d events, want 2", n)
	}
}

// TestWaitsInTheList: a job that waits for nothing is ready, looked at or not.
func TestWaitsInTheList(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	for _, c := range []struct {
		word string
		want int
	}{{"part", stateWaits}, {"nothing", stateReady}, {"customer", stateWaits}} {
		f := s.get(t, at+"/log").form(t, at+"/wait", "for", c.word)
		s.ask(t, http.MethodPost, at+"/wait", f).want(t, 303)
		if got := s.stateIn(t, at); got != c.want {
			t.Errorf("waiting for %s it stands under %q", c.word, stateNames[got])
		}
	}
}

// TestIntakeSentTwice: a form that was sent before does not write over the
// customer of the job that it opened, when it now says something else; what it
// says can be opened as another job.
func TestIntakeSentTwice(t *testing.T) {
	s := theShop(t)
	f := s.get(t, "/jobs/new").form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm", "plate", "ZZ 1", "words", "dim")
	at := s.ask(t, http.MethodPost, "/jobs", f).want(t, 303).Get("Location")
	f.Set("plate", "QQ 9")
	f.Set("words", "another vehicle")
	again := s.ask(t, http.MethodPost, "/jobs", f).want(t, 409, "sent before", "QQ 9", "another vehicle", at)
	l, err := s.book.Line(t.Context(), strings.TrimPrefix(at, "/jobs/"))
	if err != nil || l.Plate != "ZZ 1" {
		t.Errorf("the job has plate %q (%v)", l.Plate, err)
	}
	f.Set("event", again.form(t, "/jobs").Get("event"))
	f.Set("job", "QQ "+f.Get("event"))
	if other := s.ask(t, http.MethodPost, "/jobs", f).want(t, 303).Get("Location"); other == at {
		t.Error("it led to the same job")
	}
}

// TestNothingIsRememberedOfNoJob: asking for jobs that are none takes no memory, and
// of one that is there no lock stays behind.
func TestNothingIsRememberedOfNoJob(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() { s.get(t, at) })
	}
	all.Wait()
	for _, path := range []string{"/jobs/a/undo", "/jobs/b/readings", "/jobs/c/sign"} {
		s.ask(t, http.MethodPost, path, url.Values{"event": {"e-12345678"}, "seen": {"1"}}).want(t, 404)
	}
	if n := len(s.works.busy); n != 0 {
		t.Errorf("%d names are remembered", n)
	}
}
