package journal

import (
	"context"
	"database/sql"
	"errors"
	"testing"
	"time"

	"chargewright/internal/storetest"
)

// TestWork: work is asked for once under a key, whichever server is asked; its first result
// stands, until both are forgotten.
func TestWork(t *testing.T) { storetest.Each(t, onWork) }

func onWork(t *testing.T, k storetest.Kind) {
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	one, err := Open(t.Context(), k.Open(t), func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	added := 0
	add := func(context.Context, *sql.Tx) error { added++; return nil }
	gone := errors.New("it is not to be")
	if err := one.AskWork(t.Context(), "k", "that", func(context.Context, *sql.Tx) error { return gone }); !errors.Is(err, gone) {
		t.Errorf("asked for without its task: %v", err)
	}
	for range 2 {
		if err := one.AskWork(t.Context(), "k", "this", add); err != nil {
			t.Fatal(err)
		}
	}
	if asked, answer, err := one.Work(t.Context(), "k"); asked != "this" || answer != "" || added != 1 || err != nil {
		t.Errorf("%q %q, %d times (%v)", asked, answer, added, err)
	}
	for _, answer := range []string{"first", "second"} {
		if err := one.Worked(t.Context(), "k", answer); err != nil {
			t.Fatal(err)
		}
	}
	if _, answer, err := one.Work(t.Context(), "k"); answer != "first" || err != nil {
		t.Errorf("%q (%v)", answer, err)
	}
	now = now.Add(workedFor)
	if err := one.AskWork(t.Context(), "k2", "this", add); err != nil {
		t.Fatal(err)
	}
	if _, _, err := one.Work(t.Context(), "k"); !errors.Is(err, ErrUnknown) {
		t.Errorf("it is not forgotten: %v", err)
	}
}
