package journal

import (
	"database/sql"
	"errors"
	"testing"

	"chargewright/internal/storetest"
	"chargewright/job"
)

// TestNote: an event within somebody else's transaction stands at the end of its
// stream when that commits, and not at all when it does not.
func TestNote(t *testing.T) { storetest.Each(t, onNote) }

func onNote(t *testing.T, k storetest.Kind) {
	db := k.Open(t)
	s, err := Open(t.Context(), db, ticking())
	if err != nil {
		t.Fatal(err)
	}
	note := func(id string, end error) error {
		return db.Write(t.Context(), func(tx *sql.Tx) error {
			return errors.Join(s.Note(t.Context(), tx, People, job.Event{ID: id, Kind: "person", V: 1, Body: []byte("{}")}), end)
		})
	}
	gone := errors.New("the other half failed")
	for _, c := range []struct {
		id   string
		end  error
		want int
	}{{"e-1", nil, 1}, {"e-2", gone, 1}, {"e-3", nil, 2}, {"", nil, 2}} {
		if err := note(c.id, c.end); (err == nil) != (c.end == nil && c.id != "") {
			t.Errorf("%q: %v", c.id, err)
		}
		if events, err := s.Read(t.Context(), People, 0); err != nil || len(events) != c.want {
			t.Errorf("%d events after %q (%v), want %d", len(events), c.id, err, c.want)
		}
	}
	if _, err := s.Pack(t.Context(), People, false, "test"); err == nil {
		t.Error("the stream of people is packed as if it were a job")
	}
}
