package web

import (
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"chargewright/job"
	"chargewright/journal"
)

// waits is a reading as a script sends it: of a procedure, entered when the device
// knew the job up to an event.
func (s *shop) waits(taken int, procedure string, values ...string) url.Values {
	f := url.Values{
		"event": {journal.NewID(s.Now())}, "seen": {strconv.Itoa(taken)}, "taken": {strconv.Itoa(taken)}, "at": {"2026-11-25T14:05:00+01:00"}, "key": {"do:" + procedure},
	}
	for i, v := range values {
		f.Set("v"+strconv.Itoa(i), v)
	}
	return f
}

// sent is what a script is answered, for its code.
func (s *shop) sent(t *testing.T, at string, f url.Values, code int) (ok taken, came between, no refused) {
	t.Helper()
	a := s.ask(t, http.MethodPost, at+"/waiting", f, func(r *http.Request) { r.Header.Set("Accept", "application/json") })
	a.want(t, code)
	into := map[int]any{200: &ok, 409: &came}[code]
	if into == nil {
		into = &no
	}
	if err := json.Unmarshal([]byte(a.body), into); err != nil {
		t.Fatalf("%v in %s", err, a.body)
	}
	return ok, came, no
}

// TestWaitingOnce: readings that waited are recorded in their order with the time
// at which they were taken, each once however often it is sent.
func TestWaitingOnce(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	first, second := s.waits(1, "battery-rest-volts", "12,41"), s.waits(1, "look-belt", "sound and tight")
	for range 3 {
		ok, _, _ := s.sent(t, at, first, 200)
		if ok.Seq != 2 || ok.To != at+"/readings/r1" {
			t.Errorf("answered %+v", ok)
		}
		second.Set("seen", strconv.Itoa(ok.Seq)) // its device knows its own readings
		if ok, _, _ = s.sent(t, at, second, 200); ok.Seq != 3 || ok.To != at+"/readings/r2" {
			t.Errorf("answered %+v", ok)
		}
	}
	events := s.events(t, at)
	if len(events) != 3 {
		t.Fatalf("%d events, want 3", len(events))
	}
	want := time.Date(2026, 11, 25, 13, 5, 0, 0, time.UTC) // closed form: the offset taken off
	for i, f := range []url.Values{first, second} {
		e := events[i+1]
		if e.ID != f.Get("event") || !e.At.Equal(want) || e.Seen != 1 || e.Kind != job.Took {
			t.Errorf("event %d is %s %s, taken %v, knowing %d", e.Seq, e.ID, e.Kind, e.At, e.Seen)
		}
	}
	s.get(t, at+"/log").want(t, 200, "by the clock of its device")
	s.get(t, at+"/readings/r1").want(t, 200, "by the clock of its device", "recorded")
}

// TestWaitingConflict: what came meanwhile is told, nothing is recorded until
// somebody decides, and whether it was taken before a repair is theirs to say.
func TestWaitingConflict(t *testing.T) {
	s := theShop(t)
	for _, after := range []bool{false, true} {
		at := s.newJob(t)
		f := s.waits(1, "charge-volts", "12.2 V", "0.1 A")
		fix := s.get(t, at+"/repair?mend=clean-clamps").form(t, "", "repair", "clean-clamps", "what", "clamps cleaned", "cured", "unknown")
		s.ask(t, http.MethodPost, at+"/repair", fix).want(t, 303)
		s.signOff(t, at)
		_, came, _ := s.sent(t, at, f, 409)
		if came.Head != "Somebody else was here" || came.Before != "the repair" || came.Fresh || came.Seen != 3 || len(came.Lines) != 2 || came.Lines[1].What != "Signed off" {
			t.Fatalf("told of %+v", came)
		}
		if n := len(s.events(t, at)); n != 3 {
			t.Fatalf("%d events before anybody decided", n)
		}
		f.Set("seen", strconv.Itoa(came.Seen))
		epoch := 0
		if after {
			f.Set("taken", strconv.Itoa(came.Seen))
			epoch = 1
		}
		s.sent(t, at, f, 200)
		x, err := s.open(t.Context(), at[len("/jobs/"):])
		if err != nil {
			t.Fatal(err)
		}
		if got := x.job.Readings[0].Epoch; got != epoch || x.job.Signed != nil {
			t.Errorf("taken after the repair: %v; it counts in epoch %d", after, got)
		}
		s.asMadeAnew(t, at)
	}
}

// TestWaitingTakenBack: one that was recorded and taken back is not recorded
// again unless it is said, and then under an id of its own.
func TestWaitingTakenBack(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.waits(1, "battery-rest-volts", "12.41")
	s.sent(t, at, f, 200)
	s.undoLast(t, at)
	_, came, _ := s.sent(t, at, f, 409)
	if !came.Fresh || came.Head != "It was taken back" || came.Seen != 3 {
		t.Errorf("told of %+v", came)
	}
	g := s.waits(1, "battery-rest-volts", "12.5")
	g.Set("event", f.Get("event"))
	if _, came, _ = s.sent(t, at, g, 409); !came.Fresh || came.Head != "This form was sent before" {
		t.Errorf("told of %+v", came)
	}
	g.Set("event", journal.NewID(s.Now()))
	g.Set("seen", "3")
	s.sent(t, at, g, 200)
	if n := len(s.events(t, at)); n != 4 {
		t.Errorf("%d events", n)
	}
}

// TestWaitingRefused: what cannot be understood comes back with the words that a
// form would get, and what could be meant; nothing is recorded.
func TestWaitingRefused(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	_, _, no := s.sent(t, at, s.waits(1, "charge-volts", "lots", ""), 422)
	if len(no.Say) != 2 || !contains(no.Say[0], "“lots”", "Write instead") || !contains(no.Say[1], "Output amps is missing") {
		t.Errorf("told %q", no.Say)
	}
	odd := s.waits(1, "battery-rest-volts", "12400")
	_, _, no = s.sent(t, at, odd, 422)
	if len(no.Say) != 1 || !contains(no.Say[0], "Nobody expects") || len(no.Instead) != 2 || no.Instead[0].Name != "is0" || no.Instead[1].Name != "sure" {
		t.Errorf("told %+v", no)
	}
	for name, c := range map[string]struct {
		change func(url.Values)
		code   int
		at     string
	}{
		"no time":           {func(f url.Values) { f.Set("at", "soon") }, 400, at},
		"a time of nowhere": {func(f url.Values) { f.Set("at", "0001-01-01T00:00:00Z") }, 400, at},
		"knew nothing":      {func(f url.Values) { f.Set("taken", "0") }, 400, at},
		"knew the future":   {func(f url.Values) { f.Set("taken", "2") }, 400, at},
		"saw the future":    {func(f url.Values) { f.Set("seen", "9") }, 404, at},
		"no id":             {func(f url.Values) { f.Set("event", "x") }, 400, at},
		"no such test":      {func(f url.Values) { f.Set("key", "do:none") }, 422, at},
		"no such job":       {func(url.Values) {}, 404, "/jobs/none"},
	} {
		f := s.waits(1, "battery-rest-volts", "12.41")
		c.change(f)
		if _, _, no := s.sent(t, c.at, f, c.code); len(no.Say) != 1 || len(no.Say[0]) < 20 {
			t.Errorf("%s: told %q", name, no.Say)
		}
	}
	if n := len(s.events(t, at)); n != 1 {
		t.Errorf("%d events, want the opening alone", n)
	}
	odd.Set(no.Instead[0].Name, no.Instead[0].Value)
	s.sent(t, at, odd, 200)
}

// TestWaitingSignedOut: a script whose session has ended is told so, and sends it
// when somebody has signed in again.
func TestWaitingSignedOut(t *testing.T) {
	s, _ := signedShop(t)
	as := with(session(s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing")).want(t, 303)))
	f := s.ask(t, http.MethodGet, "/jobs/new", nil, as).form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm")
	at := s.ask(t, http.MethodPost, "/jobs", f, as).want(t, 303).Get("Location")
	r := s.waits(1, "battery-rest-volts", "12.41")
	s.sent(t, at, r, 401)
	script := func(q *http.Request) { q.Header.Set("Accept", "application/json") }
	s.ask(t, http.MethodPost, at+"/waiting", r, as, script).want(t, 200, `"seq":2`)
}

func contains(text string, parts ...string) bool {
	return !slices.ContainsFunc(parts, func(p string) bool { return !strings.Contains(text, p) })
}
