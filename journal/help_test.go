package journal

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"testing"
	"time"

	"chargewright/internal/sample"
	"chargewright/internal/storetest"
	"chargewright/job"
	"chargewright/store"
)

func TestMain(m *testing.M) {
	if place := os.Getenv(helperPlace); place != "" { // crash_test.go runs this binary as its helper
		os.Exit(helper(place, os.Getenv(helperMode)))
	}
	os.Exit(storetest.Run(m))
}

// noon is when the tests' clock begins; it moves a second at each look.
var noon = time.Date(2026, 11, 25, 12, 0, 0, 250_000_000, time.FixedZone("", 3600))

func ticking() func() time.Time {
	t := noon
	return func() time.Time { t = t.Add(time.Second); return t }
}

// systemFile stands for the bytes of a system file.
var (
	systemFile = []byte("format: 1\nid: invented\n")
	systemSum  = Sum(sha256.Sum256(systemFile))
)

// unsynced opens a journal for tests that are not about lasting.
func unsynced(t testing.TB, k storetest.Kind) (*Store, *store.DB) {
	t.Helper()
	db := k.Open(t)
	s, err := Open(context.Background(), db, ticking())
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Keep(context.Background(), systemSum, systemFile); err != nil {
		t.Fatal(err)
	}
	return s, db
}

// some says whether a property is to be looked at for the n-th time: every third
// here, always with CHARGEWRIGHT_ALL. A new database takes its time on a server:
// there every eighth, of those here every third.
func some(k storetest.Kind, n int) bool {
	step := sample.Count(3, 1)
	if k.Name != storetest.SQLite.Name {
		step *= 8
	}
	return n%step == 1%step
}

func body(t testing.TB, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func opening(t testing.TB, id string, b job.OpenedBody) job.Event {
	b.System, b.SHA256 = "invented", systemSum.String()
	return job.Event{ID: id, Kind: job.Opened, V: 1, Body: body(t, b), At: noon, Device: "tablet-2", Person: "p-7", Engine: "0.3.0"}
}

func reading(id string) job.Event {
	return job.Event{ID: id, Kind: job.Took, V: 1, Body: fmt.Appendf(nil, `{"id":%q,"procedure":"charge-volts","values":[{"how":"measured","x":13.8}]}`, id)}
}

func repair(id, cured string) job.Event {
	return job.Event{ID: id, Kind: job.Repaired, V: 1, Body: fmt.Appendf(nil, `{"id":%q,"cured":%q}`, id, cured)}
}

func must(t testing.TB) func([]job.Event, error) []job.Event {
	return func(events []job.Event, err error) []job.Event {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return events
	}
}

// three is a journal of three jobs and a stream of the workshop, interleaved.
func three(t testing.TB, k storetest.Kind) (*Store, *store.DB) {
	s, db := unsynced(t, k)
	ctx := context.Background()
	add := func(stream string, expected int, events ...job.Event) {
		must(t)(s.Append(ctx, stream, expected, events))
	}
	add("job-1", 0, opening(t, "a1", job.OpenedBody{Job: "W-1", Complaint: &job.Complaint{Kind: "no-charge"}, Customer: "c1"}), reading("a2"))
	add("job-2", 0, opening(t, "b1", job.OpenedBody{Job: "W-2", Vehicle: job.Vehicle{Note: "Kühlwagen, white_van"}, Opened: noon.Add(-time.Hour)}))
	add("workshop", 0, job.Event{ID: "w1", Kind: "price", V: 1, Body: []byte("any bytes\x00\xff")})
	add("job-1", 2, reading("a3"), repair("a4", "no"))
	add("job-3", 0, opening(t, "c1", job.OpenedBody{Job: "W-3"}))
	add("job-1", 4, reading("a5"), repair("a6", "yes"))
	add("job-2", 1, reading("b2"))
	return s, db
}

func query(t testing.TB, db *store.DB, into any, statement string, args ...any) {
	t.Helper()
	err := db.Read(context.Background(), func(tx *sql.Tx) error {
		return tx.QueryRowContext(context.Background(), statement, args...).Scan(into)
	})
	if err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
}

// sound reports whatever Verify finds.
func sound(t testing.TB, s *Store) Report {
	t.Helper()
	r, err := s.Verify(context.Background(), Sum{})
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range r.Breaks {
		t.Error(b.Error())
	}
	return r
}
