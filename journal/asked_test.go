package journal

import (
	"errors"
	"slices"
	"testing"
	"time"

	"chargewright/internal/storetest"
)

// TestAsked: a form is there for every server until it has grown old, and is
// forgotten then.
func TestAsked(t *testing.T) { storetest.Each(t, onAsked) }

func onAsked(t *testing.T, k storetest.Kind) {
	db := k.Open(t)
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	clock := func() time.Time { return now }
	one, err := Open(t.Context(), db, clock)
	if err != nil {
		t.Fatal(err)
	}
	other, err := Open(t.Context(), db, clock)
	if err != nil {
		t.Fatal(err)
	}
	a := Asked{"T1", "p-7", "/jobs/j/repair?x=1", "event=e-12345678&what=gr%C3%BCn", now}
	if err := one.KeepAsked(t.Context(), a); err != nil {
		t.Fatal(err)
	}
	if got, err := other.Asked(t.Context(), "T1"); err != nil || got.Ticket != a.Ticket || got.Person != a.Person || got.Target != a.Target || got.Form != a.Form || !got.At.Equal(now) {
		t.Errorf("the other server has %+v (%v)", got, err)
	}
	if _, err := other.Asked(t.Context(), "T2"); !errors.Is(err, ErrUnknown) {
		t.Errorf("got %v", err)
	}
	now = now.Add(askedFor)
	if _, err := other.Asked(t.Context(), "T1"); !errors.Is(err, ErrUnknown) {
		t.Errorf("an old one: %v", err)
	}
	if err := other.Done(t.Context(), "T1", nil); err != nil {
		t.Fatal(err)
	}
	if err := other.KeepAsked(t.Context(), Asked{Ticket: "T2"}); err != nil {
		t.Fatal(err)
	}
	now = now.Add(-time.Minute)
	if _, err := one.Asked(t.Context(), "T1"); !errors.Is(err, ErrUnknown) {
		t.Errorf("it was not forgotten: %v", err)
	}
}

// TestOverdue: a form that nobody has done is found by every server, claimed by one,
// and by another when that one does not end; what is done is found no more, and is
// not forgotten before, however old it grows.
func TestOverdue(t *testing.T) { storetest.Each(t, onOverdue) }

func onOverdue(t *testing.T, k storetest.Kind) {
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	one, err := Open(t.Context(), k.Open(t), func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	found := func(want ...string) {
		t.Helper()
		list, err := one.Overdue(t.Context())
		must(err)
		var got []string
		for _, a := range list {
			got = append(got, a.Ticket)
		}
		if !slices.Equal(got, want) {
			t.Errorf("found %v, want %v", got, want)
		}
	}
	claimed := func(ticket string, want bool) {
		t.Helper()
		if mine, err := one.Claim(t.Context(), ticket); mine != want || err != nil {
			t.Errorf("claimed: %v (%v), want %v", mine, err, want)
		}
	}
	must(one.KeepAsked(t.Context(), Asked{Ticket: "T1", Target: "/jobs/j/repair", Form: "a=b"}))
	found()
	now = now.Add(takeUpAfter)
	found("T1")
	claimed("T1", true)
	claimed("T1", false)
	found()
	now = now.Add(24 * time.Hour) // whoever claimed it has died, and nobody was there for a day
	must(one.KeepAsked(t.Context(), Asked{Ticket: "T2"}))
	found("T1")
	claimed("T1", true)
	must(one.Done(t.Context(), "T1", &Unrecorded{Asked: Asked{Target: "/jobs/j/repair", Form: "a=b", At: now}, Stream: "j", Why: "it did not fit"}))
	must(one.Done(t.Context(), "T1", &Unrecorded{Stream: "j", Why: "told twice"}))
	now = now.Add(takeUpAfter)
	found("T2")
	claimed("T1", false)
	list, err := one.Unrecorded(t.Context(), "j")
	if err != nil || len(list) != 1 || list[0].Why != "it did not fit" || list[0].Form != "a=b" || !list[0].At.Equal(now.Add(-takeUpAfter)) {
		t.Errorf("%+v (%v)", list, err)
	}
	if jobs, err := one.UnrecordedJobs(t.Context()); err != nil || !slices.Equal(jobs, []string{"j"}) {
		t.Errorf("jobs %v (%v)", jobs, err)
	}
	must(one.PutAway(t.Context(), "other", "T1"))
	if list, err := one.Unrecorded(t.Context(), "j"); err != nil || len(list) != 1 {
		t.Errorf("put away from another job: %v (%v)", list, err)
	}
	must(one.PutAway(t.Context(), "j", "T1"))
	if list, err := one.Unrecorded(t.Context(), "j"); err != nil || len(list) != 0 {
		t.Errorf("put away: %v (%v)", list, err)
	}
	if jobs, err := one.UnrecordedJobs(t.Context()); err != nil || len(jobs) != 0 {
		t.Errorf("jobs after that %v (%v)", jobs, err)
	}
}
