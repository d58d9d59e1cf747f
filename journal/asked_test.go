package journal

import (
	"context"
	"database/sql"
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
	if err := one.KeepAsked(t.Context(), a, nil); err != nil {
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
	if err := other.KeepAsked(t.Context(), Asked{Ticket: "T2"}, nil); err != nil {
		t.Fatal(err)
	}
	now = now.Add(-time.Minute)
	if _, err := one.Asked(t.Context(), "T1"); !errors.Is(err, ErrUnknown) {
		t.Errorf("it was not forgotten: %v", err)
	}
}

// TestUndone: a form that nobody has done is found by every server until it is done, and
// is not forgotten before, however old it grows; what belongs to it is there when it is.
func TestUndone(t *testing.T) { storetest.Each(t, onUndone) }

func onUndone(t *testing.T, k storetest.Kind) {
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
		list, err := one.Undone(t.Context())
		must(err)
		var got []string
		for _, a := range list {
			got = append(got, a.Ticket)
		}
		if !slices.Equal(got, want) {
			t.Errorf("found %v, want %v", got, want)
		}
	}
	gone := errors.New("it is not to be")
	if err := one.KeepAsked(t.Context(), Asked{Ticket: "T0"}, func(context.Context, *sql.Tx) error { return gone }); !errors.Is(err, gone) {
		t.Errorf("kept without what belongs to it: %v", err)
	}
	must(one.KeepAsked(t.Context(), Asked{Ticket: "T1", Target: "/jobs/j/repair", Form: "a=b"}, nil))
	found("T1")
	now = now.Add(24 * time.Hour) // nobody was there for a day
	must(one.KeepAsked(t.Context(), Asked{Ticket: "T2"}, nil))
	found("T1", "T2")
	if a, undone, err := one.Arrived(t.Context(), "T1"); !undone || a.Form != "a=b" || !a.At.Equal(now.Add(-24*time.Hour)) || err != nil {
		t.Errorf("%+v %v (%v)", a, undone, err)
	}
	must(one.Done(t.Context(), "T1", &Unrecorded{Asked: Asked{Target: "/jobs/j/repair", Form: "a=b", At: now}, Stream: "j", Why: "it did not fit"}))
	must(one.Done(t.Context(), "T1", &Unrecorded{Stream: "j", Why: "told twice"}))
	found("T2")
	for _, ticket := range []string{"T1", "T0"} {
		if _, undone, err := one.Arrived(t.Context(), ticket); undone || err != nil {
			t.Errorf("%s is there to be done (%v)", ticket, err)
		}
	}
	list, err := one.Unrecorded(t.Context(), "j")
	if err != nil || len(list) != 1 || list[0].Why != "it did not fit" || list[0].Form != "a=b" || !list[0].At.Equal(now) {
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
