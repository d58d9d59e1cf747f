package journal

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"io"
	"os"
	"strings"
	"testing"

	"chargewright/internal/storetest"
	"chargewright/job"
	"chargewright/system"
)

// wentOn is a job that a program wrote which knew neither identified nor reopened:
// signed, and gone on with without a word. Its last hash is what that program
// printed.
const (
	wentOn     = "testdata/v1/went-on.jsonl.gz"
	wentOnHash = "42bd68dfac0ad90a0cadba69c35777cc5965981dc097dceb33d753f7a3765f66"
)

func storedJob(t *testing.T) []byte {
	t.Helper()
	f, err := os.Open(wentOn)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = f.Close() }) // it was read
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestStoredJobStays: a job from before these kinds of event is taken over with the
// hashes that it had, folds to what it was, goes out again byte for byte, and goes
// on with the new kinds behind the old hash.
func TestStoredJobStays(t *testing.T) { storetest.Each(t, onStoredJobStays) }

func onStoredJobStays(t *testing.T, k storetest.Kind) {
	data := storedJob(t)
	s, _ := unsynced(t, k)
	p := parsed(t, data)
	unpack(t, s, data, false)
	sums := sumsOf(t, s, p.Stream)
	if n := len(sums); n != 16 || sums[n-1] != wentOnHash || p.Last().String() != wentOnHash {
		t.Errorf("%d events, the last %s, want 16 and %s", n, sums[n-1], wentOnHash)
	}
	again := packed(t, s, p.Stream, false)
	_, was, _ := strings.Cut(string(data), "\n") // the first line says when the file was written
	_, is, _ := strings.Cut(string(again), "\n")
	if was != is {
		t.Error("its events and what they pin go out otherwise than they came in")
	}
	j := foldStored(t, s, p)
	if j.Signed != nil || j.Identified != nil || len(j.Readings) != 9 || len(j.Repairs) != 1 || len(j.Entries) != 15 {
		t.Errorf("signed %v, identified %v, %d readings, %d repairs, %d entries", j.Signed != nil, j.Identified != nil, len(j.Readings), len(j.Repairs), len(j.Entries))
	}
	signed := job.Event{ID: "again", Kind: job.Signed, V: 1, Body: []byte(`{"gone":"yes","head":"","report":{"format":1}}`)}
	reopened := job.Event{ID: "reopened", Kind: job.Reopened, V: 1, Body: []byte(`{"why":"came back"}`)}
	must(t)(s.Append(t.Context(), p.Stream, 16, []job.Event{signed, reopened}))
	if j := foldStored(t, s, p); j.Signed != nil || len(j.Entries) != 17 {
		t.Errorf("reopened: signed %v, %d entries", j.Signed != nil, len(j.Entries))
	}
	if now := sumsOf(t, s, p.Stream); strings.Join(now[:16], " ") != strings.Join(sums, " ") {
		t.Error("the old events have other hashes")
	}
	sound(t, s)
	// The check sees a byte that is another.
	if _, err := ParseParcel("job.jsonl", bytes.Replace(data, []byte("wrong line read"), []byte("wrong line red!"), 1)); err == nil {
		t.Error("a changed event is taken")
	}
}

// foldStored folds a stored job on the system that it pins.
func foldStored(t *testing.T, s *Store, p *Parcel) *job.Job {
	t.Helper()
	shelf, err := job.Library()
	if err != nil {
		t.Fatal(err)
	}
	events, err := s.Read(t.Context(), p.Stream, 0)
	if err != nil {
		t.Fatal(err)
	}
	var b job.OpenedBody
	if err := json.Unmarshal(events[0].Body, &b); err != nil {
		t.Fatal(err)
	}
	sum, err := ParseSum(b.SHA256)
	if err != nil {
		t.Fatal(err)
	}
	shelf.System = func(string) (*system.System, error) { return system.Parse("pinned.yaml", p.Content(sum)) }
	j, err := job.Fold(events, shelf)
	if err != nil {
		t.Fatal(err)
	}
	return j
}
