package journal

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"chargewright/internal/storetest"
	"chargewright/job"
	"chargewright/store"
)

// triggers guard the tables; tampering takes them away first, as somebody with
// the file and another program can.
var triggers = []string{
	"event_is_not_changed", "event_is_not_deleted", "event_is_appended",
	"content_is_not_changed", "content_is_not_deleted", "content_is_not_replaced",
}

func tamper(t testing.TB, db *store.DB, statements ...string) {
	t.Helper()
	for _, name := range triggers {
		table, _, _ := strings.Cut(name, "_")
		drop := "DROP TRIGGER " + name
		if db.File() == "" {
			drop += " ON " + table
		}
		statements = append([]string{drop}, statements...)
	}
	for _, st := range statements {
		if err := db.Exec(t.Context(), spelt(db, st)); err != nil {
			t.Fatalf("%s: %v", st, err)
		}
	}
}

var hexBytes = regexp.MustCompile(`x'([0-9a-f]*)'`)

// spelt is a statement as the database writes bytes.
func spelt(db *store.DB, statement string) string {
	if db.File() != "" {
		return statement
	}
	statement = strings.ReplaceAll(statement, "zeroblob(32)", "x'"+strings.Repeat("00", 32)+"'")
	return hexBytes.ReplaceAllString(statement, `'\x$1'::bytea`)
}

// TestAppendOnly: with the triggers in place no statement changes or removes
// what is recorded, replacing included.
func TestAppendOnly(t *testing.T) { storetest.Each(t, onAppendOnly) }

func onAppendOnly(t *testing.T, k storetest.Kind) {
	s, db := three(t, k)
	head := sound(t, s).Head
	columns := "place, stream, seq, id, kind, v, body, at, recorded, device, person, seen, engine, prev, hash, head"
	from := func(place, stream, seq, id string) string {
		into := "INSERT OR REPLACE INTO"
		if k.Name == storetest.Postgres.Name {
			into = "INSERT INTO"
		}
		return into + " event (" + columns + ") SELECT " + place + ", " + stream + ", " + seq + ", " + id +
			", kind, v, body, at, recorded, device, person, seen, engine, prev, hash, head FROM event WHERE id = 'a3'"
	}
	last := fmt.Sprint(head.Events + 1)
	statements := []string{
		"UPDATE event SET body = x'00' WHERE id = 'a3'",
		"UPDATE event SET place = place",
		"DELETE FROM event WHERE id = 'a6'",
		"DELETE FROM event",
		from("place", "stream", "seq", "id"),
		from("place", "'new'", "1", "'new'"), // takes another's place
		from(last, "'new'", "1", "id"),       // takes another's id
		from(last, "stream", "seq", "'new'"), // takes another's number
		from(last, "stream", "8", "'new'"),   // leaves a gap in the stream
		from("99", "stream", "7", "'new'"),   // leaves a gap in the journal
		from("NULL", "stream", "8", "'new'"),
		"UPDATE content SET bytes = x'00'",
		"DELETE FROM content",
	}
	refusal := "1811" // SQLite's code for a trigger's RAISE
	if k.Name == storetest.SQLite.Name {
		statements = append(statements, "UPDATE OR IGNORE event SET id = 'z' WHERE id = 'a3'", "INSERT OR REPLACE INTO content SELECT sha256, x'00' FROM content")
	} else {
		refusal = "SQLSTATE 23001" // as the triggers say
		on := func(conflict string) string { return from(last, "stream", "7", "id") + " ON CONFLICT " + conflict }
		statements = append(statements, "TRUNCATE event", "TRUNCATE content CASCADE", on("(id) DO UPDATE SET body = excluded.body"), on("DO NOTHING"),
			"INSERT INTO content SELECT sha256, x'00' FROM content ON CONFLICT (sha256) DO UPDATE SET bytes = excluded.bytes",
			"SET session_replication_role = replica; DELETE FROM event")
	}
	for _, st := range statements {
		if err := db.Exec(t.Context(), spelt(db, st)); err == nil || !strings.Contains(err.Error(), refusal) {
			t.Errorf("%s: %v, want the trigger's refusal", st, err)
		}
	}
	if got := sound(t, s).Head; got != head {
		t.Errorf("head %+v, want %+v", got, head)
	}
	// The rules allow what they must: the next event.
	if err := db.Exec(t.Context(), from(last, "stream", "7", "'new'")); err != nil {
		t.Error(err)
	}
}

// found lists the breaks that are of an event or a content, not of the missing
// triggers, as stream/seq.
func found(r Report) (where []string, what string) {
	for _, b := range r.Breaks {
		if strings.HasPrefix(b.What, "trigger ") {
			continue
		}
		if at := fmt.Sprintf("%s/%d", b.Stream, b.Seq); !slices.Contains(where, at) {
			where = append(where, at)
		}
		what += b.What + "\n"
	}
	return where, what
}

// TestVerifyFindsEveryColumn: each column of an event changed by itself is found
// at that event. Events in order: a1 a2 b1 w1 a3 a4 c1 a5 a6 b2.
func TestVerifyFindsEveryColumn(t *testing.T) { storetest.Each(t, onVerifyFindsEveryColumn) }

func onVerifyFindsEveryColumn(t *testing.T, k storetest.Kind) {
	for column, c := range map[string]struct{ to, at, what string }{
		"place":    {"100", "job-1/4", "missing from the journal before it"}, // moved to the end: seen at it and where it is missing
		"stream":   {"'job-9'", "job-9/4", "was changed"},
		"seq":      {"40", "job-1/40", "was changed"},
		"id":       {"'a44'", "job-1/4", "was changed"},
		"kind":     {"'reading'", "job-1/4", "was changed"},
		"v":        {"2", "job-1/4", "was changed"},
		"body":     {`x'7b7d'`, "job-1/4", "was changed"},
		"at":       {"'2020-01-01T00:00:00Z'", "job-1/4", "was changed"},
		"recorded": {"'2020-01-01T00:00:00Z'", "job-1/4", "was changed"},
		"device":   {"'d'", "job-1/4", "was changed"},
		"person":   {"'somebody else'", "job-1/4", "was changed"},
		"seen":     {"3", "job-1/4", "was changed"},
		"engine":   {"'9'", "job-1/4", "was changed"},
		"prev":     {"zeroblob(32)", "job-1/4", "does not follow event 3"},
		"hash":     {"zeroblob(32)", "job-1/4", "was changed"},
		"head":     {"zeroblob(32)", "job-1/4", "in the journal as they stand"},
	} {
		s, db := three(t, k)
		tamper(t, db, "UPDATE event SET "+column+" = "+c.to+" WHERE id = 'a4'")
		r, err := s.Verify(t.Context(), Sum{})
		if err != nil {
			t.Fatal(err)
		}
		where, what := found(r)
		if !slices.Contains(where, c.at) || !strings.Contains(what, c.what) {
			t.Errorf("%s: breaks at %v, want %s %q\n%s", column, where, c.at, c.what, what)
		}
		if len(r.Breaks) < len(triggers)+1 {
			t.Errorf("%s: the missing triggers are not told: %v", column, r.Breaks)
		}
	}
	// The columns of the table are the cases above: a new one wants its case.
	_, db := three(t, k)
	var n int
	count := "SELECT count(*) FROM pragma_table_info('event')"
	if db.File() == "" {
		count = "SELECT count(*) FROM information_schema.columns WHERE table_schema = current_schema() AND table_name = 'event'"
	}
	query(t, db, &n, count)
	if n != 16 {
		t.Errorf("the table has %d columns, 16 are tampered with", n)
	}
}

// TestVerifyFinds: whatever else can be done to the tables.
func TestVerifyFinds(t *testing.T) { storetest.Each(t, onVerifyFinds) }

func onVerifyFinds(t *testing.T, k storetest.Kind) {
	for name, c := range map[string]struct {
		sql  []string
		at   []string
		what string
	}{
		"nothing":               {nil, nil, ""},
		"an event cut out":      {[]string{"DELETE FROM event WHERE id = 'a3'"}, []string{"job-1/4"}, "event 3 is missing from the stream"},
		"several cut out":       {[]string{"DELETE FROM event WHERE id IN ('a3', 'a4')"}, []string{"job-1/5"}, "events 3 to 4 are missing from the stream"},
		"a stream cut out":      {[]string{"DELETE FROM event WHERE stream = 'job-3'", "DELETE FROM line WHERE stream = 'job-3'"}, []string{"job-1/5"}, "event 7 is missing from the journal"},
		"a stream's end":        {[]string{"DELETE FROM event WHERE id = 'a6'"}, []string{"job-2/2", "job-1/6"}, "event 9 is missing from the journal"},
		"two exchanged":         {[]string{"UPDATE event SET place = 99 WHERE place = 3", "UPDATE event SET place = 3 WHERE place = 4", "UPDATE event SET place = 4 WHERE place = 99"}, []string{"workshop/1", "job-2/1"}, "in the journal as they stand"},
		"one slipped in":        {[]string{"INSERT INTO event SELECT 11, stream, 7, 'a7', kind, v, body, at, recorded, device, person, seen, engine, hash AS prev, hash, head FROM event WHERE id = 'a6'"}, []string{"job-1/7"}, "was changed"},
		"a number twice":        {[]string{"UPDATE event SET seq = 3, stream = 'job-2' WHERE id = 'c1'"}, []string{"job-2/3", "job-2/2"}, "stands after event 3"},
		"a system file":         {[]string{"UPDATE content SET bytes = x'00'"}, []string{"/0", "job-1/1", "job-2/1", "job-3/1"}, "that it pins was changed"},
		"a system file missing": {[]string{"DELETE FROM content"}, []string{"job-1/1", "job-2/1", "job-3/1"}, "that it pins is missing"},
		"a line":                {[]string{"UPDATE line SET repairs = 9 WHERE stream = 'job-1'"}, []string{"job-1/6"}, "does not say what its events say"},
		"a line missing":        {[]string{"DELETE FROM line WHERE stream = 'workshop'"}, []string{"workshop/1"}, "missing from the list"},
		"a line too many":       {[]string{"INSERT INTO line SELECT 'job-7', 77, seq, is_job, opened, changed, last, job, system, complaint, note, sought, customer, readings, repairs, cured, waits, proved, signed FROM line WHERE stream = 'job-3'"}, []string{"job-7/1"}, "does not say what its events say"},
	} {
		s, db := three(t, k)
		tamper(t, db, c.sql...)
		r, err := s.Verify(t.Context(), Sum{})
		if err != nil {
			t.Fatal(err)
		}
		where, what := found(r)
		for _, at := range c.at {
			if !slices.Contains(where, at) {
				t.Errorf("%s: breaks at %v, want %v\n%s", name, where, c.at, what)
			}
		}
		if (len(c.at) == 0) != (len(where) == 0) || !strings.Contains(what, c.what) {
			t.Errorf("%s: breaks at %v: %q\nwant %q", name, where, what, c.what)
		}
	}
}

// anew records a whole journal anew from changed events, hashes and all: the
// most that somebody with the file can do.
func anew(t testing.TB, db *store.DB, change func(*stored)) {
	t.Helper()
	s := &Store{db: db}
	var rows []*stored
	for _, stream := range []string{"job-1", "job-2", "job-3", "workshop"} {
		for _, e := range must(t)(s.Read(t.Context(), stream, 0)) {
			rows = append(rows, toStored(&e, 0, nil, nil))
			query(t, db, &rows[len(rows)-1].place, "SELECT place FROM event WHERE id = $1", e.ID)
		}
	}
	slices.SortFunc(rows, func(a, b *stored) int { return int(a.place - b.place) })
	prev, head := map[string][]byte{}, make([]byte, 32)
	statements := []string{}
	for _, e := range rows {
		change(e)
		if e.prev = prev[e.stream]; e.prev == nil {
			e.prev = make([]byte, 32)
		}
		sum := e.sum()
		after := headAfter(head, e.place, sum[:])
		prev[e.stream], head = sum[:], after[:]
		statements = append(statements, fmt.Sprintf("UPDATE event SET body = x'%x', prev = x'%x', hash = x'%x', head = x'%x' WHERE place = %d",
			e.body, e.prev, sum[:], after[:], e.place))
	}
	tamper(t, db, statements...)
}

// TestVerifyWithHead: what only a head that was written down elsewhere can show.
func TestVerifyWithHead(t *testing.T) { storetest.Each(t, onVerifyWithHead) }

func onVerifyWithHead(t *testing.T, k storetest.Kind) {
	s, _ := three(t, k)
	early, err := s.Head(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	must(t)(s.Append(t.Context(), "job-3", 1, []job.Event{reading("c2")}))
	late, err := s.Head(t.Context())
	if err != nil || late.Events != early.Events+1 {
		t.Fatalf("%+v (%v)", late, err)
	}
	for _, h := range []Head{early, late, {}} {
		r, err := s.Verify(t.Context(), h.Sum)
		if err != nil || r.At != h.Events || r.Breaks != nil || r.Head != late {
			t.Errorf("%+v (%v), want to find %+v and no break", r, err, h)
		}
	}

	for name, c := range map[string]struct {
		change func(*testing.T, *store.DB)
		alone  bool // seen without a head
	}{
		"cut off":       {func(t *testing.T, db *store.DB) { tamper(t, db, "DELETE FROM event WHERE id = 'b2'") }, false},
		"recorded anew": {func(t *testing.T, db *store.DB) { anew(t, db, func(e *stored) { e.body = append(e.body, ' ') }) }, false},
		"only the chain": {func(t *testing.T, db *store.DB) {
			tamper(t, db, "UPDATE event SET head = zeroblob(32) WHERE place = 10")
		}, true},
		"as it was": {func(t *testing.T, db *store.DB) { anew(t, db, func(*stored) {}) }, false},
	} {
		t.Run(name, func(t *testing.T) {
			s, db := three(t, k)
			h, err := s.Head(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			c.change(t, db)
			if err := s.Redraw(t.Context()); err != nil {
				t.Fatal(err)
			}
			without, err := s.Verify(t.Context(), Sum{})
			if err != nil {
				t.Fatal(err)
			}
			if _, what := found(without); (what != "") != c.alone {
				t.Errorf("without a head: %q, seen %v wanted", what, c.alone)
			}
			with, err := s.Verify(t.Context(), h.Sum)
			if err != nil {
				t.Fatal(err)
			}
			_, what := found(with)
			if seen := strings.Contains(what, "never had the head "+h.Sum.String()); seen == (name == "as it was") || seen != (with.At == -1) {
				t.Errorf("with the head: at %d, %q", with.At, what)
			}
		})
	}
}

// TestDamagedFile: a byte of the file that is not as it was written is told, or
// it holds nothing; where it stands in an event, it is told always.
func TestDamagedFile(t *testing.T) {
	_, db := three(t, storetest.SQLite)
	if err := db.Scrub(t.Context(), "customer"); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(db.File())
	if err != nil {
		t.Fatal(err)
	}
	told := func(at int) bool {
		spoilt := bytes.Clone(whole)
		spoilt[at] ^= 0x10
		file := filepath.Join(t.TempDir(), "spoilt.db")
		if err := os.WriteFile(file, spoilt, 0o600); err != nil {
			t.Fatal(err)
		}
		d, err := store.OpenRead(t.Context(), file)
		if err != nil {
			return true
		}
		defer d.Close()
		r, err := OpenRead(d).Verify(t.Context(), Sum{})
		return err != nil || len(r.Breaks) > 0
	}
	for _, text := range []string{`"procedure":"charge-volts"`, "any bytes", "tablet-2", "2026-11-25T12:00", systemSum.String()} {
		at := bytes.Index(whole, []byte(text))
		if at < 0 {
			t.Fatalf("%q is not in the file", text)
		}
		if !told(at + len(text)/2) {
			t.Errorf("a changed byte in %q is not told", text)
		}
	}
	chance := rand.New(rand.NewPCG(60, 12))
	n := 0
	for range 60 {
		if told(chance.IntN(len(whole))) {
			n++
		}
	}
	t.Logf("%d of 60 changes at random told; the others fell into unused room", n)
	if n == 0 {
		t.Errorf("none of 60 changes at random is told")
	}
}

// TestVerifyEmpty: a journal without events is whole, and its head is zeros.
func TestVerifyEmpty(t *testing.T) { storetest.Each(t, onVerifyEmpty) }

func onVerifyEmpty(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	if r := sound(t, s); r.Head != (Head{}) || r.Streams != 0 || r.Contents != 1 {
		t.Errorf("%+v", r)
	}
}
