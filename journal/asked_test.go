package journal

import (
	"errors"
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
	a := Asked{"T1", "p-7", "/jobs/j/repair?x=1", "event=e-12345678&what=gr%C3%BCn"}
	if err := one.KeepAsked(t.Context(), a); err != nil {
		t.Fatal(err)
	}
	if got, err := other.Asked(t.Context(), "T1"); err != nil || got != a {
		t.Errorf("the other server has %+v (%v)", got, err)
	}
	if _, err := other.Asked(t.Context(), "T2"); !errors.Is(err, ErrUnknown) {
		t.Errorf("got %v", err)
	}
	now = now.Add(askedFor)
	if _, err := other.Asked(t.Context(), "T1"); !errors.Is(err, ErrUnknown) {
		t.Errorf("an old one: %v", err)
	}
	if err := other.KeepAsked(t.Context(), Asked{Ticket: "T2"}); err != nil {
		t.Fatal(err)
	}
	now = now.Add(-time.Minute)
	if _, err := one.Asked(t.Context(), "T1"); !errors.Is(err, ErrUnknown) {
		t.Errorf("it was not forgotten: %v", err)
	}
}
