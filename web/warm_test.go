package web

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/system"
)

// What a workshop sees most is made ready first; where enough is known of it, nothing
// else is but the systems themselves.
func TestFirsts(t *testing.T) {
	var all []*kept
	for _, id := range []string{"a", "b", "c"} {
		all = append(all, &kept{system: &system.System{ID: id}})
	}
	said := func(jobs []journal.Line) (out []string) {
		for _, f := range firsts(all, jobs) {
			out = append(out, strings.TrimSpace(f.kept.system.ID+" "+f.kind))
		}
		return out
	}
	jobs := []journal.Line{{System: "c", Complaint: "overcharge"}, {System: "b", Complaint: "no-charge"}, {System: "c", Complaint: "overcharge"}, {System: "gone", Complaint: "no-charge"}}
	got := said(jobs)
	if len(got) != 3*len(advice.Complaints()) || strings.Join(got[:3], ", ") != "c overcharge, b no-charge, c no-charge" || !strings.HasPrefix(got[len(got)-1], "a ") {
		t.Errorf("the order of a new workshop is %q", got)
	}
	for range enough {
		jobs = append(jobs, journal.Line{System: "b", Complaint: "no-charge"})
	}
	if got := strings.Join(said(jobs), ", "); got != "b no-charge, c overcharge, a" {
		t.Errorf("the order of a known workshop is %q", got)
	}
}

// TestReadyForTheFirstJob: what is worked out ahead is what a job of that kind asks for
// that is opened on the day of the latest one, be the air written down or not.
func TestReadyForTheFirstJob(t *testing.T) {
	s := newShop(t, false)
	for _, air := range []string{"", "11"} {
		at := s.newJob(t, "ambient", air)
		x, err := s.open(t.Context(), strings.TrimPrefix(at, "/jobs/"))
		if err != nil {
			t.Fatal(err)
		}
		lines, _, err := s.Journal.Jobs(t.Context(), journal.Query{Limit: recentJobs})
		if err != nil {
			t.Fatal(err)
		}
		k, err := s.systems.find(t.Context(), theSystem)
		if err != nil {
			t.Fatal(err)
		}
		f := kindOfJob{k, x.stand.In.Complaint}
		in, err := s.newlyOpened(f, s.latestDay(t.Context(), lines))
		if err != nil {
			t.Fatal(err)
		}
		if in.Complaint != x.stand.In.Complaint || !reflect.DeepEqual(in.Day, x.stand.In.Day) {
			t.Errorf("air %q: %s on %+v is worked out ahead, the job is %s on %+v", air, in.Complaint, in.Day, x.stand.In.Complaint, x.stand.In.Day)
		}
		if err := s.ahead(f, s.latestDay(t.Context(), lines)); err != nil {
			t.Error(err)
		}
	}
}

// TestAheadYields: what is worked out ahead waits for what somebody waits for, part by
// part.
func TestAheadYields(t *testing.T) {
	s := newShop(t, false)
	k, err := s.systems.find(t.Context(), theSystem)
	if err != nil {
		t.Fatal(err)
	}
	over := s.occupied()
	defer over()
	ready := make(chan error)
	cold := 251.0 // a day that no other test has
	go func() { ready <- s.ahead(kindOfJob{k, "other"}, &job.Conditions{Ambient: &cold}) }()
	select {
	case err := <-ready:
		t.Fatalf("it was worked out while somebody waited (%v)", err)
	case <-time.After(100 * time.Millisecond):
	}
	over()
	if err := <-ready; err != nil {
		t.Error(err)
	}
}
