package journal

import (
	"slices"
	"testing"
	"time"

	"chargewright/job"
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
func TestSubscribe(t *testing.T) {
	s, _ := unsynced(t)
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
