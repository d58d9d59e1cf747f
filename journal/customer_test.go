package journal

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"chargewright/internal/storetest"
	"chargewright/job"
	"chargewright/store"
)

// TestKeep: bytes come back, twice is once, and other bytes than their hash says
// are refused.
func TestKeep(t *testing.T) { storetest.Each(t, onKeep) }

func onKeep(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	data := []byte("format: 1\nid: other\n")
	sum := Sum(sha256.Sum256(data))
	if _, err := s.Content(t.Context(), sum); !errors.Is(err, ErrUnknown) {
		t.Errorf("got %v", err)
	}
	for range 2 {
		if err := s.Keep(t.Context(), sum, data); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := s.Content(t.Context(), sum); err != nil || !bytes.Equal(got, data) {
		t.Errorf("%q (%v)", got, err)
	}
	if err := s.Keep(t.Context(), sum, append(data, ' ')); err == nil || !strings.Contains(err.Error(), "have the hash") {
		t.Errorf("other bytes were kept: %v", err)
	}
	if err := s.Keep(t.Context(), Sum(sha256.Sum256(nil)), nil); err == nil {
		t.Error("no bytes were kept")
	}
	if r := sound(t, s); r.Contents != 2 {
		t.Errorf("%d contents, want 2", r.Contents)
	}
}

// TestSpoiltContentIsNotHandedOut, nor is a job opened on it.
func TestSpoiltContentIsNotHandedOut(t *testing.T) { storetest.Each(t, onSpoiltContentIsNotHandedOut) }

func onSpoiltContentIsNotHandedOut(t *testing.T, k storetest.Kind) {
	s, db := unsynced(t, k)
	tamper(t, db, "UPDATE content SET bytes = x'00'")
	var b *Break
	if _, err := s.Content(t.Context(), systemSum); !errors.As(err, &b) {
		t.Errorf("got %v", err)
	}
	if _, err := s.Append(t.Context(), "j", 0, []job.Event{opening(t, "o", job.OpenedBody{})}); !errors.As(err, &b) {
		t.Errorf("got %v", err)
	}
}

// TestErase: name, plate and contact are gone from the table, the list, the
// search and the files; the chain is whole and the id is not used again.
func TestErase(t *testing.T) { storetest.Each(t, onErase) }

func onErase(t *testing.T, k storetest.Kind) {
	s, db := three(t, k)
	head := sound(t, s).Head
	c := Customer{ID: "c1", Name: "Quillon Vantreight", Plate: "ZQ-77 XK", Contact: "0000 314159"}
	if err := s.SetCustomer(t.Context(), Customer{ID: "c1", Name: "Quillon Vantreighd", Plate: "ZQ-77"}); err != nil {
		t.Fatal(err)
	}
	if err := s.SetCustomer(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	if got, err := s.Customer(t.Context(), "c1"); err != nil || got != c {
		t.Errorf("%+v (%v)", got, err)
	}
	marks := []string{"Vantreigh", "vantreigh", "ZQ-77", "zq77", "314159"}
	if n := inFiles(t, db, marks); n == 0 {
		t.Error("the names are in no file before: the search for them is blind")
	}
	for range 2 {
		if err := s.Erase(t.Context(), "c1"); err != nil {
			t.Fatal(err)
		}
		if n := inFiles(t, db, marks); n != 0 {
			t.Errorf("%d names and plates stand in the files after erasing", n)
		}
	}
	if got, err := s.Customer(t.Context(), "c1"); err != nil || got != (Customer{ID: "c1", Erased: true}) {
		t.Errorf("%+v (%v)", got, err)
	}
	if lines, _ := jobs(t, s, Query{Text: "Vantreight"}); len(lines) != 0 {
		t.Errorf("still found: %v", streams(lines))
	}
	if l, err := s.Line(t.Context(), "job-1"); err != nil || l.Name+l.Plate != "" || l.Customer != "c1" {
		t.Errorf("%+v (%v)", l, err)
	}
	if err := s.SetCustomer(t.Context(), c); !errors.Is(err, ErrErased) {
		t.Errorf("got %v", err)
	}
	for _, err := range []error{s.Erase(t.Context(), "nobody"), func() error { _, err := s.Customer(t.Context(), "nobody"); return err }()} {
		if !errors.Is(err, ErrUnknown) {
			t.Errorf("got %v", err)
		}
	}
	if err := s.SetCustomer(t.Context(), Customer{Name: "x"}); err == nil {
		t.Error("a customer without an id was written")
	}
	if got := sound(t, s).Head; got != head {
		t.Errorf("head %+v, want %+v", got, head)
	}
}

// inFiles counts which marks stand in the database's files. A server's log is
// not among them: it is the server's own business.
func inFiles(t testing.TB, db *store.DB, marks []string) (n int) {
	t.Helper()
	files := []string{db.File(), db.File() + "-wal"}
	if db.File() == "" {
		if err := db.Exec(context.Background(), "CHECKPOINT"); err != nil {
			t.Fatal(err)
		}
		var dir string
		query(t, db, &dir, "SELECT current_setting('data_directory') || '/base/' || oid FROM pg_database WHERE datname = current_database()")
		var err error
		if files, err = filepath.Glob(filepath.Join(dir, "*")); err != nil || len(files) < 50 {
			t.Fatalf("%d files in %s (%v)", len(files), dir, err)
		}
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range marks {
			n += bytes.Count(data, []byte(m))
		}
	}
	return n
}
