package journal

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"chargewright/internal/storetest"
	"chargewright/job"
)

// TestAppendAndRead: what is read is what was given, with its place and the
// time of recording; times keep their offset.
func TestAppendAndRead(t *testing.T) { storetest.Each(t, onAppendAndRead) }

func onAppendAndRead(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	first := opening(t, "a1", job.OpenedBody{Job: "W-1"})
	second := job.Event{
		ID: "a2", Kind: "look", V: 3, Body: []byte("\x00 any bytes \xff"), Seen: 1, Device: "tablet ü", Person: "p", Engine: "0.3.0",
		At: time.Date(2026, 3, 29, 1, 59, 59, 123456789, time.FixedZone("", -34200)),
	}
	got := must(t)(s.Append(t.Context(), "job-1", 0, []job.Event{first, second}))
	first.Stream, first.Seq, first.Recorded = "job-1", 1, noon.Add(time.Second)
	second.Stream, second.Seq, second.Recorded = "job-1", 2, noon.Add(time.Second)
	want := []job.Event{first, second}
	for what, events := range map[string][]job.Event{
		"returned": got, "read": must(t)(s.Read(t.Context(), "job-1", 0)), "read from 1": must(t)(s.Read(t.Context(), "job-1", 1)),
	} {
		if d := cmp.Diff(want, events); d != "" {
			t.Errorf("%s: %s", what, d)
		}
	}
	if got := must(t)(s.Read(t.Context(), "job-1", 2)); len(got) != 1 || got[0].ID != "a2" || stamp(got[0].At) != "2026-03-29T01:59:59.123456789-09:30" {
		t.Errorf("from 2: %+v", got)
	}
	for _, from := range []int{0, 1, 3} {
		if got := must(t)(s.Read(t.Context(), "nowhere", from)); len(got) != 0 {
			t.Errorf("%d events of a stream that has none", len(got))
		}
	}
	if r := sound(t, s); r.Head.Events != 2 || r.Streams != 1 || r.Contents != 1 {
		t.Errorf("%+v", r)
	}
}

// TestAppendRefuses: every problem of a batch at once, and nothing is recorded.
func TestAppendRefuses(t *testing.T) { storetest.Each(t, onAppendRefuses) }

func onAppendRefuses(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	bad := job.Event{
		ID: "a\tb", Kind: "", V: 0, Seen: 0, Device: strings.Repeat("x", 201), Person: "\xff", Body: []byte("x"),
		At: time.Date(2026, 1, 1, 0, 0, 0, 0, time.FixedZone("", 3661)),
	}
	unpinned := opening(t, "o", job.OpenedBody{})
	unpinned.Body = []byte(`{"system":"x"}`)
	strange := opening(t, "o", job.OpenedBody{})
	strange.Body = []byte(`{"system_sha256":"` + strings.Repeat("00", 32) + `"}`)
	broken := opening(t, "o", job.OpenedBody{})
	broken.Body = []byte(`{`)
	for name, c := range map[string]struct {
		stream   string
		expected int
		events   []job.Event
		want     []string
	}{
		"nothing":       {"", -1, nil, []string{"the stream's name is not given", "known is -1", "no event to record"}},
		"an event":      {"s", 0, []job.Event{bad, {ID: "k", Kind: "k", V: 1}}, []string{`its id "a\tb" holds`, "its kind is not given", "its device has 201 bytes", `its person "\xff"`, "its version is 0", "cannot be written as RFC 3339", "its body has 0 bytes"}},
		"another's":     {"s", 0, []job.Event{{ID: "k", Kind: "k", V: 1, Body: []byte("x"), Stream: "t"}}, []string{"belongs to stream t, not s"}},
		"seen":          {"s", 0, []job.Event{{ID: "k", Kind: "k", V: 1, Body: []byte("x"), Seen: -2}}, []string{"it has seen event -2"}},
		"too large":     {"s", 0, []job.Event{{ID: "k", Kind: "k", V: 1, Body: make([]byte, MaxBody+1)}}, []string{"its body has 8388609 bytes"}},
		"no pin":        {"s", 0, []job.Event{unpinned}, []string{"does not say which system file"}},
		"no content":    {"s", 0, []job.Event{strange}, []string{"pins content " + strings.Repeat("00", 32) + ", which is not kept: keep its bytes first"}},
		"no hash":       {"s", 0, []job.Event{{ID: "k", Kind: "system", V: 1, Body: []byte(`{"sha256":"abc"}`)}}, []string{`event k: "abc" is no hash: write its 64 digits`}},
		"not kept":      {"s", 0, []job.Event{{ID: "k", Kind: "system", V: 1, Body: []byte(`{"sha256":"` + strings.Repeat("01", 32) + `"}`)}}, []string{"event k pins content 0101"}},
		"no opening":    {"s", 0, []job.Event{broken}, []string{"the opening cannot be read"}},
		"opened late":   {"s", 0, []job.Event{reading("r"), opening(t, "o", job.OpenedBody{})}, []string{"event o (opened): stream s has events already"}},
		"broken repair": {"s", 0, []job.Event{{ID: "k", Kind: job.Repaired, V: 1, Body: []byte("x")}}, []string{"event k (repair): invalid character"}},
		"not there yet": {"s", 3, []job.Event{reading("r")}, []string{"stream s ends at event 0, not at 3"}},
	} {
		got, err := s.Append(t.Context(), c.stream, c.expected, c.events)
		if err == nil || got != nil {
			t.Errorf("%s: recorded", name)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %v\nwant %q", name, err, w)
			}
		}
		if n := strings.Count(err.Error(), "\n") + 1; n != len(c.want) {
			t.Errorf("%s: %d problems, want %d: %v", name, n, len(c.want), err)
		}
	}
	if r := sound(t, s); r.Head != (Head{}) {
		t.Errorf("%+v", r)
	}
}

// TestMoved: whoever does not know the last events is told them.
func TestMoved(t *testing.T) { storetest.Each(t, onMoved) }

func onMoved(t *testing.T, k storetest.Kind) {
	s, _ := three(t, k)
	_, err := s.Append(t.Context(), "job-1", 2, []job.Event{reading("late")})
	var m *Moved
	if !errors.As(err, &m) {
		t.Fatalf("got %v", err)
	}
	var ids []string
	for _, e := range m.Between {
		ids = append(ids, e.ID)
	}
	if m.Stream != "job-1" || m.Expected != 2 || m.Current != 6 || strings.Join(ids, " ") != "a3 a4 a5 a6" {
		t.Errorf("%+v, ids %v", m, ids)
	}
	got := must(t)(s.Append(t.Context(), "job-1", m.Current, []job.Event{reading("late")}))
	if got[0].Seq != 7 {
		t.Errorf("recorded as event %d, want 7", got[0].Seq)
	}
}

// TestTwiceIsOnce: a device that had no answer sends again, alone or with more.
func TestTwiceIsOnce(t *testing.T) { storetest.Each(t, onTwiceIsOnce) }

func onTwiceIsOnce(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	batch := []job.Event{opening(t, "a1", job.OpenedBody{}), reading("a2")}
	first := must(t)(s.Append(t.Context(), "job-1", 0, batch))
	if d := cmp.Diff(first, must(t)(s.Append(t.Context(), "job-1", 0, batch))); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(first[1:], must(t)(s.Append(t.Context(), "job-1", 2, batch[1:]))); d != "" {
		t.Error(d)
	}
	again := append(batch, reading("a3"), reading("a3"))
	again[1].Engine = "0.4.0" // the server's word, not the device's
	got := must(t)(s.Append(t.Context(), "job-1", 0, again))
	if d := cmp.Diff(first, got[:2]); d != "" || got[2].Seq != 3 || got[3].Seq != 3 || len(got) != 4 {
		t.Errorf("%s%+v", d, got[2:])
	}
	must(t)(s.Append(t.Context(), "job-1", 3, []job.Event{repair("x", "no")}))
	// The own events are known, the other one is not.
	_, err := s.Append(t.Context(), "job-1", 0, append(again, reading("a4")))
	var m *Moved
	if !errors.As(err, &m) || len(m.Between) != 1 || m.Between[0].ID != "x" {
		t.Errorf("got %v", err)
	}
	if r := sound(t, s); r.Head.Events != 4 {
		t.Errorf("%d events, want 4", r.Head.Events)
	}
}

// TestReused: the same id for something else is refused, both are named, and
// what differs; the rest of the batch is not recorded either.
func TestReused(t *testing.T) { storetest.Each(t, onReused) }

func onReused(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	was := job.Event{ID: "a1", Kind: "look", V: 1, Body: []byte("x"), At: noon, Device: "d", Person: "p", Seen: 1}
	must(t)(s.Append(t.Context(), "s", 0, []job.Event{was}))
	for what, change := range map[string]func(*job.Event){
		"kind":    func(e *job.Event) { e.Kind = "listen" },
		"version": func(e *job.Event) { e.V = 2 },
		"body":    func(e *job.Event) { e.Body = []byte("x ") },
		"time":    func(e *job.Event) { e.At = e.At.Add(time.Nanosecond) },
		"device":  func(e *job.Event) { e.Device = "" },
		"person":  func(e *job.Event) { e.Person = "q" },
		"seen":    func(e *job.Event) { e.Seen = 0 },
	} {
		now := was
		change(&now)
		_, err := s.Append(t.Context(), "s", 1, []job.Event{reading("new"), now})
		var r *Reused
		if !errors.As(err, &r) {
			t.Errorf("%s: %v", what, err)
			continue
		}
		if len(r.Differ) != 1 || r.Differ[0] != what || r.Before.Seq != 1 || !strings.Contains(err.Error(), "as event 1 (look) of stream s") {
			t.Errorf("%s: %v", what, err)
		}
	}
	_, err := s.Append(t.Context(), "t", 0, []job.Event{was, {ID: "b", Kind: "k", V: 1, Body: []byte("1")}, {ID: "b", Kind: "k", V: 1, Body: []byte("2")}})
	if err == nil || !strings.Contains(err.Error(), "differs in stream") || !strings.Contains(err.Error(), "in the same batch") {
		t.Errorf("both problems are told: %v", err)
	}
	if r := sound(t, s); r.Head.Events != 1 {
		t.Errorf("%d events, want 1", r.Head.Events)
	}
}

// TestManyAppend: many devices at once, each sending until its reading is in:
// every reading once, in one order, chained.
func TestManyAppend(t *testing.T) { storetest.Each(t, onManyAppend) }

func onManyAppend(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	s.now = func() time.Time { return noon }
	const devices, each = 8, 12
	var all sync.WaitGroup
	for d := range devices {
		all.Go(func() {
			known := 0
			for n := 0; n < each; {
				e := reading(fmt.Sprintf("d%d-%d", d, n))
				_, err := s.Append(t.Context(), "job-1", known, []job.Event{e})
				var m *Moved
				switch {
				case errors.As(err, &m):
					known = m.Current
				case err != nil:
					t.Error(err)
					return
				default:
					n++
				}
			}
		})
	}
	all.Wait()
	if r := sound(t, s); r.Head.Events != devices*each {
		t.Errorf("%d events, want %d", r.Head.Events, devices*each)
	}
}

// TestJournalAgainstAList: whatever is sent in whatever order, the journal holds
// what a plain list of the accepted events holds, and its chain is whole.
func TestJournalAgainstAList(t *testing.T) { storetest.Each(t, onJournalAgainstAList) }

func onJournalAgainstAList(t *testing.T, k storetest.Kind) {
	t.Parallel()
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		if n++; !some(k, n) {
			return
		}
		s, db := unsynced(t, k)
		defer db.Close()
		model := map[string][]job.Event{}
		byID := map[string]string{} // id -> stream
		kinds := map[string]job.Event{}
		for range rapid.IntRange(1, 12).Draw(r, "appends") {
			stream := rapid.SampledFrom([]string{"j1", "j2", "j3"}).Draw(r, "stream")
			expected := rapid.IntRange(0, len(model[stream])+1).Draw(r, "expected")
			if rapid.Bool().Draw(r, "up to date") {
				expected = len(model[stream])
			}
			var batch []job.Event
			for range rapid.IntRange(1, 4).Draw(r, "events") {
				id := fmt.Sprint(rapid.IntRange(1, 25).Draw(r, "id"))
				if _, drawn := kinds[id]; !drawn {
					kinds[id] = rapid.SampledFrom([]job.Event{reading(id), repair(id, "no"), repair(id, "yes"), {ID: id, Kind: "rig", V: 1, Body: []byte("{}")}}).Draw(r, "event")
				}
				batch = append(batch, kinds[id])
			}
			want, accepted := plainAppend(model[stream], stream, expected, batch, byID)
			got, err := s.Append(t.Context(), stream, expected, batch)
			if (err == nil) != accepted {
				r.Fatalf("%s at %d: %v, want accepted %v", stream, expected, err, accepted)
			}
			if accepted {
				model[stream] = want
				for _, e := range got {
					if e.Seq < 1 || e.Seq > len(want) || want[e.Seq-1].ID != e.ID {
						r.Fatalf("event %s is returned as %d of %s", e.ID, e.Seq, stream)
					}
				}
			}
		}
		total := int64(0)
		for stream, want := range model {
			got, err := s.Read(t.Context(), stream, 0)
			if err != nil || len(got) != len(want) {
				r.Fatalf("%s: %d events, want %d (%v)", stream, len(got), len(want), err)
			}
			for i := range want {
				if got[i].ID != want[i].ID || got[i].Seq != i+1 || string(got[i].Body) != string(want[i].Body) {
					r.Fatalf("%s: event %d is %+v", stream, i+1, got[i])
				}
			}
			total += int64(len(want))
		}
		if rep := sound(t, s); rep.Head.Events != total {
			r.Fatalf("%d events, want %d", rep.Head.Events, total)
		}
	})
}

// plainAppend is Append on a list.
func plainAppend(have []job.Event, stream string, expected int, batch []job.Event, byID map[string]string) ([]job.Event, bool) {
	own, fresh := map[string]bool{}, []job.Event{}
	for _, e := range batch {
		if at, known := byID[e.ID]; known && at != stream {
			return nil, false
		} else if !known && !own[e.ID] {
			fresh = append(fresh, e)
		}
		own[e.ID] = true
	}
	if len(fresh) > 0 {
		if expected > len(have) {
			return nil, false
		}
		for _, e := range have[expected:] {
			if !own[e.ID] {
				return nil, false
			}
		}
	}
	for _, e := range fresh {
		byID[e.ID] = stream
	}
	return append(have, fresh...), true
}
