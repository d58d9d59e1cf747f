package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"chargewright/internal/storetest"
	"chargewright/job"
)

func jobs(t testing.TB, s *Store, q Query) ([]Line, bool) {
	t.Helper()
	lines, more, err := s.Jobs(context.Background(), q)
	if err != nil {
		t.Fatal(err)
	}
	return lines, more
}

func streams(lines []Line) string {
	var out []string
	for _, l := range lines {
		out = append(out, l.Stream)
	}
	return strings.Join(out, " ")
}

// TestLine: what the list shows of a job, and nothing of a stream that is none.
func TestLine(t *testing.T) { storetest.Each(t, onLine) }

func onLine(t *testing.T, k storetest.Kind) {
	s, _ := three(t, k)
	if err := s.SetCustomer(t.Context(), Customer{ID: "c1", Name: "Änne Muster", Plate: "XX-12 34", Contact: "bell"}); err != nil {
		t.Fatal(err)
	}
	lines, more := jobs(t, s, Query{})
	if streams(lines) != "job-2 job-1 job-3" || more {
		t.Errorf("%s, more %v", streams(lines), more)
	}
	want := Line{
		Stream: "job-1", Seq: 6, Place: 9, Opened: noon, Changed: noon.Add(6 * time.Second), Last: job.Repaired, Job: "W-1", System: "invented",
		Complaint: "no-charge", Customer: "c1", Readings: 3, Repairs: 2, Cured: "yes", Name: "Änne Muster", Plate: "XX-12 34",
	}
	if err := s.db.Read(t.Context(), func(tx *sql.Tx) (err error) {
		var hash []byte
		_, hash, err = tail(t.Context(), tx, "job-1")
		copy(want.Hash[:], hash)
		return err
	}); err != nil || want.Hash == (Sum{}) {
		t.Fatal(want.Hash, err)
	}
	if d := cmp.Diff(want, lines[1], cmpopts.IgnoreUnexported(Line{})); d != "" {
		t.Error(d)
	}
	if !lines[0].Opened.Equal(noon.Add(-time.Hour)) {
		t.Errorf("opened %v: what the opening says counts", lines[0].Opened)
	}
	one, err := s.Line(t.Context(), "job-1")
	if d := cmp.Diff(lines[1], one, cmpopts.IgnoreUnexported(Line{})); err != nil || d != "" {
		t.Errorf("%v %s", err, d)
	}
	if l, err := s.Line(t.Context(), "workshop"); err != nil || l.Seq != 1 {
		t.Errorf("%+v %v", l, err)
	}
	if _, err := s.Line(t.Context(), "nowhere"); !errors.Is(err, ErrUnknown) {
		t.Errorf("got %v", err)
	}
}

// TestNumbered: the jobs of one number, whatever its capitals, and no job whose
// number only begins or goes on like it.
func TestNumbered(t *testing.T) { storetest.Each(t, onNumbered) }

func onNumbered(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	for i, number := range []string{"W-1", "w-1", "W-11", "AW-1", "W_1", "100%", "1000", "Ölwechsel 3", ""} {
		id := fmt.Sprint("n", i)
		must(t)(s.Append(t.Context(), id, 0, []job.Event{opening(t, id, job.OpenedBody{Job: number, Vehicle: job.Vehicle{Note: "W-9\nW-1"}})}))
	}
	for number, want := range map[string]string{
		"W-1": "n1 n0", " w-1 ": "n1 n0", "W-11": "n2", "W_1": "n4", "100%": "n5", "10": "", "%": "", "öLWECHSEL 3": "n7", "W-9": "", "": "", "  ": "", "w-1\nw-9": "",
	} {
		lines, err := s.Numbered(t.Context(), number)
		if err != nil || streams(lines) != want {
			t.Errorf("%q: %q (%v), want %q", number, streams(lines), err, want)
		}
	}
}

// TestStanding: waiting, proof and signature stand until the job goes on, and what
// is taken back counts as if it had not been.
func TestStanding(t *testing.T) { storetest.Each(t, onStanding) }

func onStanding(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	n := 0
	event := func(kind job.Kind, body string) job.Event {
		n++
		return job.Event{ID: fmt.Sprintf("e%d", n), Kind: kind, V: 1, Body: []byte(body)}
	}
	back := func(id string) job.Event { return event(job.Withdrawn, `{"event":"`+id+`"}`) }
	is := func(readings, repairs int, cured, waits string, proved, signed bool) string {
		return fmt.Sprint(readings, repairs, cured, waits, proved, signed)
	}
	wait, sign := func(what string) job.Event { return event(job.Waits, `{"for":"`+what+`"}`) }, func() job.Event { return event(job.Signed, `{"gone":"yes"}`) }
	for i, c := range []struct {
		event func() job.Event
		want  string
	}{
		{func() job.Event { return opening(t, "o", job.OpenedBody{}) }, is(0, 0, "", "", false, false)},
		{func() job.Event { return wait("battery") }, is(0, 0, "", "battery", false, false)},
		{func() job.Event { return wait("nothing") }, is(0, 0, "", "", false, false)},
		{func() job.Event { return wait("part") }, is(0, 0, "", "part", false, false)},
		{func() job.Event { return reading("r1") }, is(1, 0, "", "", false, false)},
		{func() job.Event { return repair("x1", "no") }, is(1, 1, "no", "", false, false)},
		{func() job.Event { return repair("x2", "yes") }, is(1, 2, "yes", "", false, false)},
		{func() job.Event { return back("x2") }, is(1, 1, "no", "", false, false)},
		{func() job.Event { return event(job.Proved, `{"readings":["r1"]}`) }, is(1, 1, "no", "", true, false)},
		{func() job.Event { return wait("customer") }, is(1, 1, "no", "customer", true, false)},
		{sign, is(1, 1, "no", "", true, true)},
		{func() job.Event { return reading("r2") }, is(2, 1, "no", "", false, false)},
		{func() job.Event { return back("r2") }, is(1, 1, "no", "", true, true)},
		{func() job.Event { return event(job.Corrected, `{"id":"r1"}`) }, is(1, 1, "no", "", false, false)},
		{sign, is(1, 1, "no", "", false, true)},
		{func() job.Event { return event(job.Identified, `{"system":"x"}`) }, is(1, 1, "no", "", false, true)},
		{func() job.Event {
			return job.Event{ID: "o1", Kind: job.Reopened, V: 1, Body: []byte(`{"why":"came back"}`)}
		}, is(1, 1, "", "", false, false)},
		{func() job.Event { return back("o1") }, is(1, 1, "no", "", false, true)},
		{func() job.Event { return event(job.Reopened, `{"why":"came back again","complaint":"back"}`) }, is(1, 1, "", "", false, false)},
		{func() job.Event { return reading("r3") }, is(2, 1, "", "", false, false)},
		{func() job.Event { return repair("x3", "yes") }, is(2, 2, "yes", "", false, false)},
		{sign, is(2, 2, "yes", "", false, true)},
	} {
		e := c.event()
		must(t)(s.Append(t.Context(), "j", i, []job.Event{e}))
		l, err := s.Line(t.Context(), "j")
		if got := is(l.Readings, l.Repairs, l.Cured, l.Waits, l.Proved, l.Signed); err != nil || got != c.want || l.Seq != i+1 {
			t.Errorf("after event %d (%s): %s, want %s (%v)", i+1, e.Kind, got, c.want, err)
		}
		if lines, _ := jobs(t, s, Query{Open: true}); len(lines) == 1 == l.Signed {
			t.Errorf("after event %d (%s): %d open jobs, signed %v", i+1, e.Kind, len(lines), l.Signed)
		}
	}
	sound(t, s)
}

// TestSearch: in name, plate, job and note, whatever the case; signs that mean
// something to the database are letters like any other.
func TestSearch(t *testing.T) { storetest.Each(t, onSearch) }

func onSearch(t *testing.T, k storetest.Kind) {
	s, _ := three(t, k)
	if err := s.SetCustomer(t.Context(), Customer{ID: "c1", Name: "Änne Muster", Plate: "XX-12 34"}); err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"": "job-2 job-1 job-3", "  ": "job-2 job-1 job-3",
		"w-2": "job-2", "W-": "job-2 job-1 job-3",
		"änne": "job-1", "ÄNNE": "job-1", "xx12": "job-1", "x-x 1 234": "job-1", "XX-12": "job-1",
		"kühl": "job-2", "WHITE_VAN": "job-2", "white-van": "",
		"%": "", "_": "job-2", `\`: "", "'": "", "white%": "",
	} {
		if lines, _ := jobs(t, s, Query{Text: text}); streams(lines) != want {
			t.Errorf("%q finds %q, want %q", text, streams(lines), want)
		}
	}
}

// TestPages: going from page to page shows every job once, in order.
func TestPages(t *testing.T) { storetest.Each(t, onPages) }

func onPages(t *testing.T, k storetest.Kind) {
	t.Parallel()
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		if n++; !some(k, n) {
			return
		}
		s, db := unsynced(t, k)
		defer db.Close()
		n := rapid.IntRange(0, 12).Draw(r, "jobs")
		limit := rapid.IntRange(1, 5).Draw(r, "limit")
		var want []string
		for i := range n {
			stream := fmt.Sprintf("job-%d", i)
			must(t)(s.Append(t.Context(), stream, 0, []job.Event{opening(t, stream, job.OpenedBody{})}))
			want = slices.Insert(want, 0, stream)
		}
		if n > 0 { // an old one is worked on again
			again := fmt.Sprintf("job-%d", rapid.IntRange(0, n-1).Draw(r, "again"))
			must(t)(s.Append(t.Context(), again, 1, []job.Event{reading("r")}))
			want = slices.DeleteFunc(want, func(s string) bool { return s == again })
			want = slices.Insert(want, 0, again)
		}
		var got []string
		q := Query{Limit: limit}
		for range n + 1 {
			lines, more := jobs(t, s, q)
			for _, l := range lines {
				got = append(got, l.Stream)
			}
			if len(lines) > limit || more != (len(got) < n) {
				r.Fatalf("%d lines of %d, more %v after %d of %d", len(lines), limit, more, len(got), n)
			}
			if !more {
				break
			}
			q.Before = lines[len(lines)-1].Place
		}
		if !slices.Equal(got, want) {
			r.Fatalf("%v, want %v", got, want)
		}
	})
}

// dump is every column of every line.
func dump(t testing.TB, s *Store) (out []string) {
	t.Helper()
	err := s.db.Read(t.Context(), func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(t.Context(), "SELECT * FROM line ORDER BY stream")
		if err != nil {
			return err
		}
		defer rows.Close()
		names, err := rows.Columns()
		for err == nil && rows.Next() {
			cells := make([]any, len(names))
			for i := range cells {
				cells[i] = new(any)
			}
			err = rows.Scan(cells...)
			line := ""
			for i, c := range cells {
				if v, ok := c.(*any); ok {
					line += fmt.Sprintf("%s=%v ", names[i], *v)
				}
			}
			out = append(out, line)
		}
		return errors.Join(err, rows.Err())
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestRedrawIsTheSame: the list made anew from the events is the one that was
// kept up to date, column by column; and one that is not is put right.
func TestRedrawIsTheSame(t *testing.T) { storetest.Each(t, onRedrawIsTheSame) }

func onRedrawIsTheSame(t *testing.T, k storetest.Kind) {
	t.Parallel()
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		if n++; !some(k, n) {
			return
		}
		s, db := unsynced(t, k)
		defer db.Close()
		seq := map[string]int{}
		for i := range rapid.IntRange(1, 25).Draw(r, "events") {
			stream := rapid.SampledFrom([]string{"j1", "j2", "j3"}).Draw(r, "stream")
			id := fmt.Sprint(i)
			e := rapid.SampledFrom([]job.Event{reading(id), repair(id, "no"), repair(id, "yes"), {ID: id, Kind: "rig", V: 1, Body: []byte("{}")}}).Draw(r, "event")
			if seq[stream] == 0 && rapid.Bool().Draw(r, "opens") {
				e = opening(t, id, job.OpenedBody{Job: id, Vehicle: job.Vehicle{Note: "Note " + id}, Customer: "c"})
			}
			if i > 5 && rapid.IntRange(0, 4).Draw(r, "takes back") == 0 {
				e.Kind, e.Body = job.Withdrawn, fmt.Appendf(nil, `{"event":"%d"}`, rapid.IntRange(0, i).Draw(r, "which"))
			}
			must(t)(s.Append(t.Context(), stream, seq[stream], []job.Event{e}))
			seq[stream]++
		}
		before := dump(t, s)
		if len(before) != len(seq) {
			r.Fatalf("%d lines, want %d", len(before), len(seq))
		}
		for _, spoil := range []string{"SELECT 1", "DELETE FROM line", "UPDATE line SET readings = 77, opened = ''", "UPDATE line SET stream = stream || 'x'"} {
			if err := db.Exec(t.Context(), spoil); err != nil {
				r.Fatal(err)
			}
			if err := s.Redraw(t.Context()); err != nil {
				r.Fatal(err)
			}
			if d := cmp.Diff(before, dump(t, s)); d != "" {
				r.Fatalf("after %s: %s", spoil, d)
			}
		}
	})
}

// TestOtherRulesAreRedrawn: lines that another program has drawn by its rules
// are made anew on opening, others are left.
func TestOtherRulesAreRedrawn(t *testing.T) { storetest.Each(t, onOtherRulesAreRedrawn) }

func onOtherRulesAreRedrawn(t *testing.T, k storetest.Kind) {
	for version, redrawn := range map[int]bool{lineRules: false, lineRules + 1: true, 0: true} {
		s, db := three(t, k)
		before := dump(t, s)
		if err := db.Exec(t.Context(), fmt.Sprintf("UPDATE line SET readings = 77; UPDATE line_rules SET version = %d", version)); err != nil {
			t.Fatal(err)
		}
		again, err := Open(t.Context(), db, ticking())
		if err != nil {
			t.Fatal(err)
		}
		if same := cmp.Equal(before, dump(t, again)); same != redrawn {
			t.Errorf("rules %d: made anew %v, want %v", version, same, redrawn)
		}
	}
}
