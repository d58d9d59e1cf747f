package journal

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"chargewright/internal/storetest"
	"chargewright/job"
)

// packed is the file of a job of a journal that three has made.
func packed(t testing.TB, s *Store, stream string, withCustomer bool) []byte {
	t.Helper()
	p, err := s.Pack(context.Background(), stream, withCustomer, "0.3.0")
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := p.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func parsed(t testing.TB, data []byte) *Parcel {
	t.Helper()
	p, err := ParseParcel("job.jsonl", data)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func unpack(t testing.TB, s *Store, data []byte, withCustomer bool) Unpacked {
	t.Helper()
	out, err := s.Unpack(context.Background(), parsed(t, data), withCustomer)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// sumsOf are the hashes of a stream.
func sumsOf(t testing.TB, s *Store, stream string) (out []string) {
	t.Helper()
	err := s.db.Read(context.Background(), func(tx *sql.Tx) error {
		return each(context.Background(), tx, func(e *stored) error { out = append(out, Sum(e.hash).String()); return nil }, "WHERE stream = $1 ORDER BY seq", stream)
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestParcel: a job goes from one workshop to another, on whichever databases,
// with its events, ids, times and hashes as they are; twice is once; and what
// came to it later follows.
func TestParcel(t *testing.T) {
	storetest.Each(t, func(t *testing.T, from storetest.Kind) {
		storetest.Each(t, func(t *testing.T, to storetest.Kind) { parcel(t, from, to) })
	})
}

func parcel(t *testing.T, from, to storetest.Kind) {
	s, _ := three(t, from)
	must(t)(s.Append(t.Context(), "job-1", 6, []job.Event{{ID: "a7", Kind: "look", V: 1, Body: []byte("any bytes\x00\xff")}}))
	db := to.Open(t)
	other, err := Open(t.Context(), db, ticking())
	if err != nil {
		t.Fatal(err)
	}
	must(t)(other.Append(t.Context(), "own", 0, []job.Event{reading("own-1")})) // another place in the journal
	news, cancel := other.Subscribe("job-1")
	defer cancel()

	data := packed(t, s, "job-1", false)
	if got := unpack(t, other, data, false); got.Added != 7 || got.Events != 7 || got.Head.Events != 8 || got.Customer != TookNone {
		t.Errorf("%+v", got)
	}
	if n := notice(t, news); n.Seq != 7 {
		t.Errorf("the pages are told %+v", n)
	}
	if d := cmp.Diff(must(t)(s.Read(t.Context(), "job-1", 0)), must(t)(other.Read(t.Context(), "job-1", 0))); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(sumsOf(t, s, "job-1"), sumsOf(t, other, "job-1")); d != "" {
		t.Error(d)
	}
	head := sound(t, other).Head
	for _, file := range [][]byte{data, packed(t, other, "job-1", false)} { // again, and back as it is there
		if got := unpack(t, other, file, false); got.Added != 0 || got.Events != 7 || got.Head != head {
			t.Errorf("taken twice: %+v", got)
		}
	}
	if l, err := other.Line(t.Context(), "job-1"); err != nil || l.Job != "W-1" || l.Repairs != 2 {
		t.Errorf("%+v %v", l, err)
	}

	// It goes on where it came from, then here.
	must(t)(s.Append(t.Context(), "job-1", 7, []job.Event{reading("a8"), reading("a9")}))
	later := packed(t, s, "job-1", false)
	if got := unpack(t, other, later, false); got.Added != 2 || got.Events != 9 {
		t.Errorf("%+v", got)
	}
	must(t)(other.Append(t.Context(), "job-1", 9, []job.Event{reading("b10")}))
	for _, file := range [][]byte{data, later} { // the beginning of what is here
		if got := unpack(t, other, file, false); got.Added != 0 || got.Events != 10 {
			t.Errorf("%+v", got)
		}
	}
	// Both went on: neither is lost, and both are named.
	must(t)(s.Append(t.Context(), "job-1", 9, []job.Event{reading("a10")}))
	_, err = other.Unpack(t.Context(), parsed(t, packed(t, s, "job-1", false)), false)
	var d *Diverged
	if !errors.As(err, &d) || d.Seq != 10 || d.Here.ID != "b10" || d.Came.ID != "a10" {
		t.Errorf("got %v", err)
	}
	sound(t, other)
}

// TestUnpackRefuses: an id that names something else here, and nothing is left
// of what was refused.
func TestUnpackRefuses(t *testing.T) { storetest.Each(t, onUnpackRefuses) }

func onUnpackRefuses(t *testing.T, k storetest.Kind) {
	s, _ := three(t, k)
	data := packed(t, s, "job-1", true)
	other, err := Open(t.Context(), k.Open(t), ticking())
	if err != nil {
		t.Fatal(err)
	}
	must(t)(other.Append(t.Context(), "own", 0, []job.Event{reading("a2"), reading("a5")}))
	head := sound(t, other).Head
	_, err = other.Unpack(t.Context(), parsed(t, data), true)
	var r *Reused
	if !errors.As(err, &r) || strings.Count(err.Error(), "was used before") != 2 {
		t.Errorf("both ids are told: %v", err)
	}
	if got := sound(t, other); got.Head != head || got.Contents != 0 {
		t.Errorf("%+v is left", got)
	}
	for stream, want := range map[string]string{"workshop": "is no job", "nowhere": "does not know it"} {
		if _, err := s.Pack(t.Context(), stream, false, ""); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", stream, err, want)
		}
	}
}

// TestParcelCustomer: name, plate and contact go along and are taken only when
// asked for, never over what stands there, and never over an erasure.
func TestParcelCustomer(t *testing.T) { storetest.Each(t, onParcelCustomer) }

func onParcelCustomer(t *testing.T, k storetest.Kind) {
	s, _ := three(t, k)
	c := Customer{ID: "c1", Name: "Quillon Vantreight", Plate: "ZQ-77 XK", Contact: "0000 314159"}
	if err := s.SetCustomer(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	without, with := packed(t, s, "job-1", false), packed(t, s, "job-1", true)
	for _, word := range []string{"Vantreight", "ZQ-77", "314159"} {
		if bytes.Contains(without, []byte(word)) || !bytes.Contains(with, []byte(word)) {
			t.Errorf("%s stands in the file without, or does not with", word)
		}
	}
	fresh := func() *Store {
		o, err := Open(t.Context(), k.Open(t), ticking())
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	known := func(o *Store, want Customer, is error) {
		t.Helper()
		if got, err := o.Customer(t.Context(), "c1"); got != want || !errors.Is(err, is) {
			t.Errorf("%+v (%v), want %+v (%v)", got, err, want, is)
		}
	}
	o := fresh()
	for i, step := range []struct {
		data []byte
		want bool
		took Took
	}{{without, true, TookNone}, {with, false, TookNone}, {with, true, TookNew}, {with, true, TookSame}} {
		if got := unpack(t, o, step.data, step.want); got.Customer != step.took {
			t.Errorf("step %d: %q, want %q", i+1, got.Customer, step.took)
		}
		if step.took == TookNone {
			known(o, Customer{}, ErrUnknown)
		}
	}
	known(o, c, nil)
	own := Customer{ID: "c1", Name: "Ours"}
	if err := o.SetCustomer(t.Context(), own); err != nil {
		t.Fatal(err)
	}
	if got := unpack(t, o, with, true); got.Customer != TookKept {
		t.Errorf("%+v", got)
	}
	known(o, own, nil)
	if err := o.Erase(t.Context(), "c1"); err != nil {
		t.Fatal(err)
	}
	if got := unpack(t, o, with, true); got.Customer != TookErased {
		t.Errorf("%+v", got)
	}
	known(o, Customer{ID: "c1", Erased: true}, nil)
	if data := packed(t, o, "job-1", true); bytes.Contains(data, []byte(`"customer":"c1"`)) {
		t.Error("an erased customer goes along")
	}
}

// TestParcelFormat: the file is as docs/journal-format.md shows it.
func TestParcelFormat(t *testing.T) {
	s, _ := unsynced(t, storetest.SQLite)
	e := opening(t, "0199b8c0-0000-7000-8000-000000000001", job.OpenedBody{Job: "412", Customer: "c-7"})
	look := job.Event{ID: "0199b8c0-0000-7000-8000-000000000002", Kind: "look", V: 1, Body: []byte("\xff\x00"), Seen: 1}
	must(t)(s.Append(t.Context(), "j-412", 0, []job.Event{e, look}))
	if err := s.SetCustomer(t.Context(), Customer{ID: "c-7", Name: "A. Example", Plate: "XX 123", Contact: "bell"}); err != nil {
		t.Fatal(err)
	}
	s.now = func() time.Time { return noon }
	page, err := os.ReadFile("../docs/journal-format.md")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(packed(t, s, "j-412", true))) {
		if !strings.Contains(string(page), strings.TrimSpace(line)) {
			t.Errorf("docs/journal-format.md does not show the line\n%s", line)
		}
	}
}

// TestParseParcelBites: everything that is wrong with a file is told, each with
// its line.
func TestParseParcelBites(t *testing.T) {
	s, _ := three(t, storetest.SQLite)
	if err := s.SetCustomer(t.Context(), Customer{ID: "c1", Name: "N", Plate: "P", Contact: "C"}); err != nil {
		t.Fatal(err)
	}
	good := strings.TrimSuffix(string(packed(t, s, "job-1", true)), "\n")
	lines := strings.Split(good, "\n") // head, content, 6 events, customer
	if len(lines) != 9 {
		t.Fatalf("%d lines", len(lines))
	}
	with := func(line int, old, to string) string {
		out := append([]string{}, lines...)
		if changed := strings.Replace(out[line-1], old, to, 1); changed != out[line-1] {
			out[line-1] = changed
		} else {
			t.Fatalf("line %d does not hold %s", line, old)
		}
		return strings.Join(out, "\n")
	}
	swapped := append([]string{}, lines...)
	swapped[4], swapped[5] = swapped[5], swapped[4]
	cut := append([]string{}, lines[:5]...)
	zeros := strings.Repeat("0", 64)
	for name, c := range map[string]struct {
		data string
		want []string
	}{
		"empty":            {"", []string{"job.jsonl:1: it is no exported job"}},
		"another file":     {`{"a":1}`, []string{"job.jsonl:1: it is no exported job; write instead: a file that chargewright export"}},
		"newer":            {with(1, `"format":1`, `"format":2`), []string{":1: its format is none that this program reads (it reads 1)"}},
		"head key":         {with(1, `"events"`, `"happened"`), []string{`:1: unknown field "happened"`}},
		"stream":           {with(1, "job-1", "a/b"), []string{`:1: stream: "a/b" is not the name`, ":3: it was changed", ":4: it was changed", ":5: it was changed", ":6: it was changed", ":7: it was changed", ":8: it was changed"}},
		"the systems":      {with(1, "job-1", Systems), []string{`:1: stream: "systems"`, ":3:", ":4:", ":5:", ":6:", ":7:", ":8:"}},
		"count":            {with(1, `"events":6`, `"events":7`), []string{":1: it says that the job has 7 events, and it has 6"}},
		"last hash":        {with(1, lines[0][strings.Index(lines[0], `"hash":"`)+8:][:64], zeros), []string{":1: it says that the last event has the hash " + zeros}},
		"written":          {with(1, `"written":"2026`, `"written":"2O26`), []string{":1: written: "}},
		"content":          {with(2, "invented", "invenTed"), []string{":2: the content's bytes have the hash "}},
		"content's hash":   {with(2, `"content":"`, `"content":"x`), []string{`:2: content: "x`, ":3: the content " + systemSum.String() + " that it names is not in the file"}},
		"no content":       {strings.Join(append(append([]string{}, lines[:1]...), lines[2:]...), "\n"), []string{":2: the content " + systemSum.String()}},
		"content twice":    {strings.Join(append([]string{lines[0], lines[1]}, lines[1:]...), "\n"), []string{":3: content " + systemSum.String() + " stands in line 2 already"}},
		"content for none": {good + "\n" + `{"content":"` + Sum{}.String() + `","text":"x"}`, []string{":10: the content's bytes have the hash ", ":10: no event names the content"}},
		"body":             {with(4, "13.8", "14.2"), []string{":4: it was changed after it was recorded"}},
		"no body":          {with(4, `"body"`, `"bodi"`), []string{`:4: unknown field "bodi"`}},
		"both":             {with(4, `"at"`, `"base64":"AA==","at"`), []string{":4: it has both body and base64", ":4: it was changed", ":4: its body has 0 bytes"}},
		"id":               {with(4, `"id":"a2"`, `"id":"a1"`), []string{":4: id a1 is that of line 3, too", ":4: it was changed"}},
		"numbers":          {strings.Join(swapped, "\n"), []string{":5: event 4 stands where event 3", ":5: it does not follow", ":6: event 3 stands where event 4", ":6: it does not follow", ":7: it does not follow"}},
		"cut":              {strings.Join(cut, "\n"), []string{":1: it says that the job has 6 events, and it has 3", ":1: it says that the last event has the hash"}},
		"cut in a line":    {good[:len(good)-30], []string{":9: the line is empty or cut off"}},
		"empty line":       {strings.Replace(good, "\n", "\n\n", 1), []string{":2: the line is empty or cut off"}},
		"time":             {with(5, `"recorded":"2026-11`, `"recorded":"2026-13`), []string{":5: a time cannot be read", ":5: it was changed"}},
		"not recorded":     {with(5, `"recorded":"`, `"recorded":"","person":"`), []string{":5: it does not say when it was recorded", ":5: it was changed"}},
		"not an object":    {good + "\n[1]", []string{":10: the line holds a array: each line is an object"}},
		"no kind of line":  {good + "\n{}", []string{":10: the line does not say what it is; write instead: one of event, content, customer"}},
		"two on a line":    {good + ` {"a":1}`, []string{":9: "}},
		"type":             {with(4, `"v":1`, `"v":"1"`), []string{":4: v is a string; write instead: int64"}},
		"customer":         {with(9, `"customer":"c1"`, `"customer":"c2"`), []string{":9: customer c2 is not the one that the opening names"}},
		"customer twice":   {good + "\n" + lines[8], []string{":10: a customer stands in line 9 already"}},
		"customer's name":  {with(9, `"N"`, `"N\u0000"`), []string{`:9: the customer's name "N\x00" holds what is no text`}},
		"missing":          {with(9, `,"plate":"P","contact":"C"`, ``), []string{":9: plate is missing; write instead: the file as it was exported", ":9: contact is missing"}},
		"hash":             {with(8, `"hash":"`, `"hash":"g`), []string{":8: hash: ", ":8: it was changed", ":1: it says that the last"}},
		"no events":        {lines[0] + "\n" + lines[1], []string{":1: it holds no event"}},
		"not an opening":   {with(3, `"kind":"opened"`, `"kind":"opene"`), []string{":3: it was changed", ":3: a job begins with its opening; its first event is a opene"}},
	} {
		p, err := ParseParcel("job.jsonl", []byte(c.data))
		if err == nil || p != nil {
			t.Errorf("%s: taken", name)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %v\nwant %q", name, err, w)
			}
		}
		if n := strings.Count(err.Error(), "\n") + 1; n != len(c.want) {
			t.Errorf("%s: %d problems, want %d:\n%v", name, n, len(c.want), err)
		}
	}
}

// TestEveryByteOfAParcelCounts: whatever one byte of a file is changed to, the
// file is refused, or says the same of the job.
func TestEveryByteOfAParcelCounts(t *testing.T) {
	s, _ := three(t, storetest.SQLite)
	good := packed(t, s, "job-2", false)
	want := parsed(t, good)
	for at := range good {
		for _, to := range []byte{good[at] ^ 1, good[at] ^ 0x20, '"', '0'} {
			data := bytes.Clone(good)
			data[at] = to
			p, err := ParseParcel("x", data)
			if err != nil || bytes.Equal(data, good) {
				continue
			}
			if d := sameJob(want, p); d != "" {
				t.Errorf("byte %d as %q: %s", at, to, d)
			}
		}
	}
}

// sameJob says how two parcels differ in what is taken over.
func sameJob(a, b *Parcel) string {
	if a.Stream != b.Stream || a.Last() != b.Last() || len(a.rows) != len(b.rows) || len(a.contents) != len(b.contents) {
		return fmt.Sprintf("%s %v %d %d, not %s %v %d %d", b.Stream, b.Last(), len(b.rows), len(b.contents), a.Stream, a.Last(), len(a.rows), len(a.contents))
	}
	for i := range a.rows {
		if a.rows[i].sum() != b.rows[i].sum() {
			return fmt.Sprintf("event %d differs", i+1)
		}
	}
	return ""
}

// FuzzParseParcel: whatever the bytes, reading ends with a parcel or with
// problems that have a line; what is taken is written and read back as it was.
func FuzzParseParcel(f *testing.F) {
	page, err := os.ReadFile("../docs/journal-format.md")
	if err != nil {
		f.Fatal(err)
	}
	var lines []string
	for line := range strings.Lines(string(page)) {
		if strings.HasPrefix(line, `{"`) {
			lines = append(lines, line)
		}
	}
	good := strings.Join(lines, "")
	if parsed(f, []byte(good)).Customer == nil {
		f.Fatal("the example has no customer")
	}
	f.Add([]byte(good))
	f.Add([]byte(good[:len(good)/2]))
	f.Add([]byte(strings.ReplaceAll(good, `"body"`, `"base64"`)))
	f.Add([]byte(lines[0] + lines[2]))
	f.Add([]byte(`{"chargewright":"job","format":1,"stream":"j","events":0}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ParseParcel("x", data)
		if (p == nil) == (err == nil) {
			t.Fatalf("parcel %v, problems %v", p, err)
		}
		if err != nil {
			for line := range strings.SplitSeq(err.Error(), "\nx:") {
				if strings.TrimPrefix(line, "x:") == "" {
					t.Fatalf("a problem says nothing: %q", err)
				}
			}
			return
		}
		if _, err := p.Events(); err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		if err := p.Write(&out); err != nil {
			t.Fatal(err)
		}
		if d := sameJob(p, parsed(t, out.Bytes())); d != "" {
			t.Fatal(d)
		}
	})
}
