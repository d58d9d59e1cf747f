package journal

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chargewright/internal/storetest"
)

// example is the example of docs/journal-format.md.
func example() (first, second stored) {
	zeros := make([]byte, 32)
	first = stored{
		place: 1, stream: "job-412", seq: 1, id: "0199b8c0-0000-7000-8000-000000000001", kind: "rig", v: 1, body: []byte(`{"rig":{"engine":"off"}}`),
		at: "2026-11-25T09:10:00+01:00", recorded: "2026-11-25T08:10:02.5Z", device: "tablet-2", person: "p-7", engine: "0.3.0", prev: zeros,
	}
	second = stored{
		place: 2, stream: "job-412", seq: 2, id: "0199b8c0-0000-7000-8000-000000000002", kind: "could-not", v: 1,
		body: []byte(`{"procedure":"battery-density","why":"versiegelt, Größe"}`), recorded: "2026-11-25T08:11:00Z", seen: 1,
	}
	return first, second
}

// TestKnownHashes: program: CPython 3.11 hashlib and struct, written from
// docs/journal-format.md and not from this package. The page says the same.
func TestKnownHashes(t *testing.T) {
	page, err := os.ReadFile("../docs/journal-format.md")
	if err != nil {
		t.Fatal(err)
	}
	first, second := example()
	h1 := first.sum()
	head1 := headAfter(make([]byte, 32), 1, h1[:])
	second.prev = h1[:]
	h2 := second.sum()
	for _, c := range []struct {
		what string
		got  Sum
		want string
	}{
		{"event 1", h1, "0c3a48b63b3877327c7b7dfedc41b3fb90c096d163638b09ea5f7aa1e5cd0d44"},
		{"head 1", head1, "4476b5970102e9f0749ccac8368cf95e51ff0f87d39b58a5ad09a9b1a7ec8d8c"},
		{"event 2", h2, "fe8c8e5e752ee58e350d70cee19e2be66638eb28135daecfb146fbe17347a254"},
		{"head 2", headAfter(head1[:], 2, h2[:]), "fa6212624b6487587861ca6c60db2072dae545763881a173511afcd6dd622f6f"},
	} {
		if c.got.String() != c.want {
			t.Errorf("%s: %v, want %s", c.what, c.got, c.want)
		}
		if !strings.Contains(string(page), c.want) {
			t.Errorf("docs/journal-format.md does not give %s as %s", c.what, c.want)
		}
	}
}

// taking writes down what would be hashed.
type taking struct {
	hash.Hash
	got []byte
}

func (k *taking) Write(p []byte) (int, error) { k.got = append(k.got, p...); return len(p), nil }

// TestEncodingIsReadBack: texts and numbers come back from the bytes that are
// hashed, so no two events have the same bytes.
func TestEncodingIsReadBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		texts := rapid.SliceOfN(rapid.StringOf(rapid.RuneFrom([]rune{'a', 0, 1, 'ü'})), 1, 6).Draw(r, "texts")
		n := rapid.Int64().Draw(r, "number")
		k := &taking{}
		for _, s := range texts {
			text(k, s)
			number(k, n)
		}
		for _, want := range texts {
			l := binary.BigEndian.Uint64(k.got)
			got, num := string(k.got[8:8+l]), int64(binary.BigEndian.Uint64(k.got[8+l:]))
			if got != want || num != n {
				r.Fatalf("%q %d, want %q %d", got, num, want, n)
			}
			k.got = k.got[16+l:]
		}
		if len(k.got) != 0 {
			r.Fatalf("%d bytes are left", len(k.got))
		}
	})
}

// TestEveryFieldCounts: moving a byte from a field to its neighbour, or changing
// any field, is another hash.
func TestEveryFieldCounts(t *testing.T) {
	base, _ := example()
	seen := map[Sum]string{base.sum(): "as it is"}
	for what, change := range map[string]func(*stored){
		"prev":           func(e *stored) { e.prev = append([]byte{1}, e.prev[1:]...) },
		"stream":         func(e *stored) { e.stream = "job-41" },
		"seq":            func(e *stored) { e.seq = 2 },
		"id":             func(e *stored) { e.id += "0" },
		"kind":           func(e *stored) { e.kind = "rigs" },
		"v":              func(e *stored) { e.v = 2 },
		"body":           func(e *stored) { e.body = []byte(`{"rig":{"engine":"off"} }`) },
		"at":             func(e *stored) { e.at = "2026-11-25T08:10:00Z" },
		"recorded":       func(e *stored) { e.recorded = "" },
		"device":         func(e *stored) { e.device = "" },
		"person":         func(e *stored) { e.person = "p-8" },
		"seen":           func(e *stored) { e.seen = 1 },
		"engine":         func(e *stored) { e.engine = "0.3.1" },
		"device, person": func(e *stored) { e.device, e.person = "tablet-2p", "-7" },
	} {
		e := base
		change(&e)
		if other, twice := seen[e.sum()]; twice {
			t.Errorf("%s has the hash of %s", what, other)
		}
		seen[e.sum()] = what
	}
}

// TestNoBrokenEventIsHandedOut: reading tells a break and gives nothing.
func TestNoBrokenEventIsHandedOut(t *testing.T) { storetest.Each(t, onNoBrokenEventIsHandedOut) }

func onNoBrokenEventIsHandedOut(t *testing.T, k storetest.Kind) {
	for what, c := range map[string]struct {
		change string
		seq    int
	}{
		"body":        {"UPDATE event SET body = x'7b7d' WHERE id = 'a3'", 3},
		"body, hash":  {"UPDATE event SET hash = (SELECT hash FROM event WHERE id = 'b1') WHERE id = 'a3'", 3},
		"time":        {"UPDATE event SET recorded = 'noon' WHERE id = 'a5'", 5},
		"one missing": {"DELETE FROM event WHERE id = 'a4'", 5},
		"the first":   {"DELETE FROM event WHERE id = 'a1'", 2},
	} {
		s, db := three(t, k)
		tamper(t, db, c.change)
		got, err := s.Read(t.Context(), "job-1", 0)
		var b *Break
		if !errors.As(err, &b) || b.Stream != "job-1" || b.Seq != c.seq || got != nil {
			t.Errorf("%s: %d events, %v; want a break at event %d", what, len(got), err, c.seq)
		}
		if got := must(t)(s.Read(t.Context(), "job-2", 0)); len(got) != 2 {
			t.Errorf("%s: the other stream has %d events", what, len(got))
		}
	}
}

// TestChangedWithItsHash: an event changed together with its own hash is found
// at the next one of its stream.
func TestChangedWithItsHash(t *testing.T) { storetest.Each(t, onChangedWithItsHash) }

func onChangedWithItsHash(t *testing.T, k storetest.Kind) {
	s, db := three(t, k)
	e := must(t)(s.Read(t.Context(), "job-1", 3))[0]
	var prev []byte
	query(t, db, &prev, "SELECT prev FROM event WHERE id = 'a3'")
	e.Body = []byte(`{"id":"a3","values":[]}`)
	row := toStored(&e, 5, prev, nil)
	tamper(t, db, fmt.Sprintf("UPDATE event SET body = x'%x', hash = x'%x' WHERE id = 'a3'", row.body, row.hash))
	_, err := s.Read(t.Context(), "job-1", 0)
	var b *Break
	if !errors.As(err, &b) || b.Seq != 4 || !strings.Contains(b.What, "does not follow event 3") {
		t.Errorf("read: %v", err)
	}
	r, err := s.Verify(t.Context(), Sum{})
	if err != nil {
		t.Fatal(err)
	}
	if where, what := found(r); strings.Join(where, " ") != "job-1/3 job-1/4" {
		t.Errorf("breaks at %v: %s", where, what)
	}
}
