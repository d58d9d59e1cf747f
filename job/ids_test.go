package job_test

import (
	"os"
	"slices"
	"strings"
	"testing"

	"chargewright/identify"
	"chargewright/job"
	"chargewright/meter"
	"chargewright/system"
)

// idsFile lists every id that an event of a recorded job may hold and that is not in the
// bytes which the job pins. It grows: a line is never taken out of it.
const idsFile = "testdata/ids.txt"

// idsNow are those that this program knows.
func idsNow(t *testing.T) (out []string) {
	t.Helper()
	s := shelf(t)
	add := func(kind string, ids ...string) {
		for _, id := range ids {
			out = append(out, kind+" "+id)
		}
	}
	for id := range s.Catalogue {
		add("procedure", id)
	}
	for _, name := range system.Library() {
		sys, err := s.System(name)
		if err != nil {
			t.Fatal(err)
		}
		for id := range s.PracticeOf(sys).Repairs {
			add("repair", id)
		}
	}
	for _, m := range meter.Catalogue() {
		add("meter", m.ID)
	}
	add("complaint", job.ComplaintKinds...)
	add("when", system.Occasions...)
	add("before", job.BeforeWords...)
	add("noticed", job.NoticedWords...)
	add("use", job.UseWords...)
	add("waits", job.WaitWords...)
	lib, err := identify.Library()
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lib.Looks {
		for _, a := range l.Answers {
			add("look", l.ID+"="+a.ID)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// TestIDsStay: a job that was recorded years ago is read by this program, so an id that an
// event may hold is never dropped or given to something else.
func TestIDsStay(t *testing.T) {
	now := idsNow(t)
	data, err := os.ReadFile(idsFile)
	if err != nil {
		t.Fatal(err)
	}
	kept := strings.Split(strings.TrimSpace(string(data)), "\n")
	if len(kept) < 100 || !slices.IsSorted(kept) {
		t.Fatalf("%s has %d lines, sorted: %v", idsFile, len(kept), slices.IsSorted(kept))
	}
	for _, id := range gone(kept, now) {
		t.Errorf("%s: recorded jobs may hold it, and this program knows it no more: keep it, whatever it is called on the pages", id)
	}
	for _, id := range gone(now, kept) {
		t.Errorf("%s is new: add this line to %s", id, idsFile)
	}
	if lost := gone(append(slices.Clone(kept), "repair of-old"), now); !slices.Contains(lost, "repair of-old") {
		t.Error("an id that is gone is not seen: this check is blind")
	}
}

// gone are those of a list that another lacks.
func gone(list, from []string) (out []string) {
	for _, x := range list {
		if !slices.Contains(from, x) {
			out = append(out, x)
		}
	}
	return out
}
