package journal

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"chargewright/internal/storetest"
	"chargewright/job"
	"chargewright/store"
)

func notice(t *testing.T, ch <-chan Notice) Notice {
	t.Helper()
	select {
	case n, open := <-ch:
		if !open {
			t.Fatal("the channel is closed")
		}
		return n
	case <-time.After(5 * time.Second):
		t.Fatal("no notice came")
	}
	return Notice{}
}

func quiet(t *testing.T, ch <-chan Notice) {
	t.Helper()
	select {
	case n, open := <-ch:
		if open {
			t.Errorf("a notice nobody wanted: %+v", n)
		}
	default:
	}
}

// TestSubscribe: who asked for a stream is told of it once it can be read, and
// of no other; who is slow is told the last.
func TestSubscribe(t *testing.T) { storetest.Each(t, onSubscribe) }

func onSubscribe(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	one, stopOne := s.Subscribe("job-1")
	all, stopAll := s.Subscribe("")
	other, stopOther := s.Subscribe("job-2")
	defer stopOther()

	must(t)(s.Append(t.Context(), "job-1", 0, []job.Event{reading("a1"), reading("a2")}))
	want := Notice{Stream: "job-1", Seq: 2, Place: 2}
	for _, ch := range []<-chan Notice{one, all} {
		if n := notice(t, ch); n != want {
			t.Errorf("%+v, want %+v", n, want)
		}
	}
	quiet(t, other)

	// Nothing is told of what is not recorded, or was recorded before.
	must(t)(s.Append(t.Context(), "job-1", 2, []job.Event{reading("a2")}))
	if _, err := s.Append(t.Context(), "job-1", 0, []job.Event{reading("a3")}); err == nil {
		t.Error("recorded without knowing the rest")
	}
	quiet(t, one)

	// Appends do not wait for whoever does not listen.
	for i := range 5 {
		must(t)(s.Append(t.Context(), "job-1", 2+i, []job.Event{reading(string(rune('p' + i)))}))
	}
	if n := notice(t, one); n.Seq != 7 {
		t.Errorf("the last is event %d, want 7", n.Seq)
	}
	quiet(t, one)

	stopOne()
	stopOne() // again does no harm
	must(t)(s.Append(t.Context(), "job-1", 7, []job.Event{reading("z")}))
	if _, open := <-one; open {
		t.Error("told after it was cancelled")
	}
	if n := notice(t, all); n.Seq != 8 {
		t.Errorf("%+v", n)
	}
	stopAll()
}

// TestOvertaken: of two appends the later place stays, whoever tells last.
func TestOvertaken(t *testing.T) {
	var h hub
	ch, stop := h.subscribe("")
	defer stop()
	h.tell(Notice{Stream: "b", Seq: 1, Place: 9})
	h.tell(Notice{Stream: "a", Seq: 4, Place: 8})
	if n := notice(t, ch); n.Place != 9 {
		t.Errorf("%+v", n)
	}
	quiet(t, ch)
}

// TestNewID: ids have the form of RFC 9562, 5.7, differ, and sort by their time.
func TestNewID(t *testing.T) {
	var ids []string
	for i := range 200 {
		ids = append(ids, NewID(noon.Add(time.Duration(i)*time.Millisecond)))
	}
	for _, id := range ids {
		if len(id) != 36 || id[14] != '7' || !slices.Contains([]byte("89ab"), id[19]) || id[8] != '-' || id[13] != '-' || id[18] != '-' || id[23] != '-' {
			t.Errorf("%s is no UUID of version 7", id)
		}
	}
	if !slices.IsSorted(ids) || len(slices.Compact(ids)) != 200 {
		t.Error("ids do not sort by time, or one came twice")
	}
	// closed form: 2026-11-25T11:00:00.250Z is 1795604400250 ms, hex 01a2125cc87a
	if want := "01a2125c-c87a"; ids[0][:13] != want {
		t.Errorf("%s, want it to begin with %s", ids[0], want)
	}
}

// TestFollow: what another server, or another program on the same file, records
// is told here within a second, to whoever asked for it; also what it recorded
// before anybody here looked.
func TestFollow(t *testing.T) { storetest.Each(t, onFollow) }

func onFollow(t *testing.T, k storetest.Kind) {
	place := k.Place(t)
	var stores []*Store
	for range 2 {
		db, err := store.Open(t.Context(), place)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		s, err := Open(t.Context(), db, time.Now)
		if err != nil {
			t.Fatal(err)
		}
		stores = append(stores, s)
	}
	here, there := stores[0], stores[1]
	ctx, cancel := context.WithCancel(t.Context())
	var done sync.WaitGroup
	done.Go(func() { here.Follow(ctx, func(err error) { t.Error(err) }) })
	defer done.Wait()
	defer cancel()

	one, stopOne := here.Subscribe("job-1")
	defer stopOne()
	two, stopTwo := here.Subscribe("job-2")
	defer stopTwo()
	for i := range 3 {
		began := time.Now()
		must(t)(there.Append(t.Context(), "job-1", 2*i, []job.Event{reading(fmt.Sprint("a", i)), reading(fmt.Sprint("b", i))}))
		if n := notice(t, one); n.Seq != 2*i+2 || n.Stream != "job-1" {
			t.Errorf("%+v", n)
		}
		if took := time.Since(began); took > time.Second {
			t.Errorf("told after %v", took)
		}
	}
	must(t)(there.Append(t.Context(), "job-2", 0, []job.Event{reading("c")}))
	if n := notice(t, two); n.Seq != 1 || n.Place != 7 {
		t.Errorf("%+v", n)
	}
	quiet(t, one)
	must(t)(here.Append(t.Context(), "job-1", 6, []job.Event{reading("d")})) // its own, told once
	if n := notice(t, one); n.Seq != 7 {
		t.Errorf("%+v", n)
	}
	time.Sleep(700 * time.Millisecond) // until it has been looked for, too
	quiet(t, one)
}

// TestTwoServersMove: whoever does not know what was recorded on the other
// server is told both, and what was sent to one is not recorded again by the
// other.
func TestTwoServersMove(t *testing.T) { storetest.Each(t, onTwoServersMove) }

func onTwoServersMove(t *testing.T, k storetest.Kind) {
	place := k.Place(t)
	var stores []*Store
	for range 2 {
		db, err := store.Open(t.Context(), place)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		s, err := Open(t.Context(), db, time.Now)
		if err != nil {
			t.Fatal(err)
		}
		stores = append(stores, s)
	}
	// Many devices on both servers, each sending to one, then to the other, as
	// when an answer was lost.
	const devices, each = 6, 10
	var all sync.WaitGroup
	for d := range devices {
		all.Go(func() {
			known := 0
			for n := 0; n < each; {
				e := reading(fmt.Sprintf("d%d-%d", d, n))
				got, err := stores[(d+n)%2].Append(t.Context(), "job-1", known, []job.Event{e})
				var m *Moved
				if errors.As(err, &m) {
					if known = m.Current; len(m.Between) == 0 {
						t.Errorf("moved, and nothing in between: %v", m)
					}
					continue
				}
				if err != nil {
					t.Error(err)
					return
				}
				again, err := stores[(d+n+1)%2].Append(t.Context(), "job-1", 0, []job.Event{e})
				if err != nil || again[0].Seq != got[0].Seq {
					t.Errorf("sent again: %+v (%v), want event %d", again, err, got[0].Seq)
				}
				n++
			}
		})
	}
	all.Wait()
	if r := sound(t, stores[0]); r.Head.Events != devices*each {
		t.Errorf("%d events, want %d", r.Head.Events, devices*each)
	}
	var counts Counts
	for _, s := range stores {
		c := s.Counts()
		counts.Appends, counts.Events, counts.Repeated = counts.Appends+c.Appends, counts.Events+c.Events, counts.Repeated+c.Repeated
		counts.Conflicts, counts.Failed = counts.Conflicts+c.Conflicts, counts.Failed+c.Failed
	}
	if counts.Appends != devices*each || counts.Events != devices*each || counts.Repeated != devices*each || counts.Conflicts == 0 || counts.Failed != 0 {
		t.Errorf("counted %+v", counts)
	}
}

// TestOddNames: names that no stream and no customer can have are unknown, and no
// trouble, on every database.
func TestOddNames(t *testing.T) { storetest.Each(t, onOddNames) }

func onOddNames(t *testing.T, k storetest.Kind) {
	s, _ := three(t, k)
	for _, odd := range []string{"", "\x00", "job-1\x00", "\xff", "a\nb", "'; DROP TABLE event; --", strings.Repeat("x", 300)} {
		if _, err := s.Line(t.Context(), odd); !errors.Is(err, ErrUnknown) {
			t.Errorf("line of %q: %v", odd, err)
		}
		if got, err := s.Read(t.Context(), odd, 0); err != nil || len(got) != 0 {
			t.Errorf("events of %q: %d (%v)", odd, len(got), err)
		}
		if _, err := s.Customer(t.Context(), odd); !errors.Is(err, ErrUnknown) {
			t.Errorf("customer %q: %v", odd, err)
		}
		if odd != "" {
			if lines, _ := jobs(t, s, Query{Text: odd}); len(lines) != 0 {
				t.Errorf("%q is found in %s", odd, streams(lines))
			}
		}
	}
	err := s.SetCustomer(t.Context(), Customer{ID: "a\tb", Name: "x\x00", Plate: "\xff", Contact: "fine"})
	if err == nil || strings.Count(err.Error(), "\n") != 2 {
		t.Errorf("every problem at once: %v", err)
	}
	// A body may say anything; the list shows what can be shown.
	must(t)(s.Append(t.Context(), "odd", 0, []job.Event{opening(t, "odd", job.OpenedBody{Job: "A\x001", Vehicle: job.Vehicle{Note: "nul \x00"}})}))
	if l, err := s.Line(t.Context(), "odd"); err != nil || l.Job != "A\uFFFD1" {
		t.Errorf("%+v %v", l, err)
	}
	sound(t, s)
}
