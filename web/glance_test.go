package web

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"testing"

	"chargewright/job"
)

// TestAPreviewIsWorkedOutOnce: looked at by two devices at once, then entered: one
// belief, and one plan that the page after it shows.
func TestAPreviewIsWorkedOutOnce(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12.11", "u0", "V")
	var all sync.WaitGroup
	for range 2 {
		all.Go(func() { s.ask(t, http.MethodPost, at+"/preview", f).want(t, 200, "If this is entered") })
	}
	all.Wait()
	stream := strings.TrimPrefix(at, "/jobs/")
	s.works.mu.Lock()
	g := s.works.seen[stream]
	s.works.mu.Unlock()
	if g == nil {
		t.Fatal("nothing is kept of the look")
	}
	looked, err := g.made()
	if err != nil {
		t.Fatal(err)
	}
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303)
	x, err := s.open(t.Context(), stream)
	if err != nil {
		t.Fatal(err)
	}
	planned, err := looked.stand.Planned()
	if err != nil || x.stand != planned || len(planned.Advice.Next) == 0 {
		t.Errorf("the job was worked out anew when it was entered (%v)", err)
	}
	if x.seq != 2 || len(x.job.Readings) != 1 {
		t.Errorf("event %d, %d readings", x.seq, len(x.job.Readings))
	}
}

// TestAPreviewOutlivesItsAsker: whoever looks at the same after the first one has
// gone away is answered all the same.
func TestAPreviewOutlivesItsAsker(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	x, err := s.open(t.Context(), strings.TrimPrefix(at, "/jobs/"))
	if err != nil {
		t.Fatal(err)
	}
	e := job.Event{ID: "e-12345678", Kind: job.Took, V: 1, Body: []byte(`{"id":"r1","procedure":"battery-rest-volts","values":[{"how":"measured","x":12.1}]}`)}
	gone, leave := context.WithCancel(t.Context())
	leave()
	if _, err := s.hypothetical(gone, x, e); err == nil {
		t.Fatal("the look of somebody who has gone away was worked out")
	}
	then, err := s.hypothetical(t.Context(), x, e)
	if err != nil || len(then.job.Readings) != 1 {
		t.Fatalf("the next one is told %v", err)
	}
}

// TestStepsOnlyWhereTheyAreShown: a reading that is recorded on a state that nobody
// looked at leaves its next steps out, as does what it says of the state before; the
// page of the job has them, and its form as it was refused as well.
func TestStepsOnlyWhereTheyAreShown(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	stream := strings.TrimPrefix(at, "/jobs/")
	f := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12.31", "u0", "V")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303)
	again := f
	again.Set("event", "e-once-more-1")
	again.Set("seen", "2")
	again.Set("reading", "r2")
	again.Set("v0", "none of your business")
	s.ask(t, http.MethodPost, at+"/readings", again).want(t, 422, "Other ways") // the form with all that stands around it
	again.Set("v0", "12.29")
	s.works.mu.Lock()
	clear(s.works.by)
	s.works.used = nil
	s.works.mu.Unlock()
	s.ask(t, http.MethodPost, at+"/readings", again).want(t, 303)
	if x := s.works.get(place{stream, 2}); x == nil || x.steps || len(x.stand.Advice.Next) > 0 {
		t.Error("the steps of a state were worked out that nobody looks at")
	}
	x, err := s.open(t.Context(), stream)
	if err != nil || !x.steps || len(x.stand.Advice.Next) == 0 {
		t.Fatalf("the job as it stands has no next step (%v)", err)
	}
	if x, err := s.openAt(t.Context(), stream, 2); err != nil || !x.steps || len(x.stand.Advice.Next) == 0 {
		t.Errorf("asked for, a state has no next step (%v)", err)
	}
	if x, err := s.weighed(t.Context(), stream, 3); err != nil || !x.steps {
		t.Errorf("steps that are there are thrown away (%v)", err)
	}
}
