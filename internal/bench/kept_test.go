package main

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

// A run that was cut short goes on with what was played, a half written line
// included.
func TestKept(t *testing.T) {
	dir := t.TempDir()
	key := caseKey{"hidden", 1001, 3, "planner", "[0.8 0.8] 0"}
	want := outcome{minutes: 41.5, floor: 20, readings: 4, moves: 7, first: true, stopShare: 0.97, stated: []stated{{p: 0.4, after: 1}, {p: 0.97, right: true, after: 2}}}
	k, err := keep(dir, "a")
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := k.get(key); ok {
		t.Fatal("an empty file knows an outcome")
	}
	if err := k.put(key, want); err != nil {
		t.Fatal(err)
	}
	if err := k.close(); err != nil {
		t.Fatal(err)
	}
	names, err := filepath.Glob(filepath.Join(dir, "cases-a-*.jsonl"))
	if err != nil || len(names) != 1 {
		t.Fatalf("files %v, %v", names, err)
	}
	f, err := os.OpenFile(names[0], os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteString(`{"part":"hid`); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	second := key
	second.Case = 4
	for range 2 { // the second time the half line is gone
		k, err = keep(dir, "a")
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := k.get(key); !ok || !reflect.DeepEqual(got, want) {
			t.Fatalf("came back as %+v, %v; was %+v", got, ok, want)
		}
		if err := k.put(second, want); err != nil {
			t.Fatal(err)
		}
		if err := k.close(); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(names[0], []byte("{\"minutes\":true}\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := keep(dir, "a"); err == nil {
		t.Fatal("a line that is no outcome was taken")
	}
}

// The JSON beside a report has its words and every cell.
func TestSections(t *testing.T) {
	got := sectionsOf("a machine\n\n## dc\n\n| what | us |\n|---|---|\n| cold | 7.8 |\n| warm | 3.8 |\n\nNo allocation.\n\n| other |\n|---|\n| 1 |\n")
	want := []section{
		{Name: "machine", Words: []string{"a machine"}},
		{Name: "dc", Words: []string{"No allocation."}, Tables: []table{
			{Columns: []string{"what", "us"}, Rows: [][]string{{"cold", "7.8"}, {"warm", "3.8"}}},
			{Columns: []string{"other"}, Rows: [][]string{{"1"}}},
		}},
	}
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("got %+v\nwant %+v", got, want)
	}
}

// Shares that are right come out under the floor, shares that are not above it.
func TestGapFloor(t *testing.T) {
	honest, sure := make([]outcome, 400), make([]outcome, 400)
	for i := range honest {
		s := stated{p: 0.75, right: i%4 > 0, after: 1}
		honest[i].stated = []stated{s}
		s.p = 0.95
		sure[i].stated = []stated{s}
	}
	truth := func(s stated) bool { return s.right }
	for _, c := range []struct {
		name  string
		o     []outcome
		under bool
	}{{"right three times in four, said so", honest, true}, {"right three times in four, said 0.95", sure, false}} {
		_, high := gapFloor(c.o)
		if got := gap(binned(c.o, truth)); (got <= high) != c.under {
			t.Errorf("%s: gap %.3f, floor %.3f", c.name, got, high)
		}
	}
}
