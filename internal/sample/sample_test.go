package sample

import (
	"flag"
	"fmt"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// TestOf: every kind is in, as many as were asked for, in order, each once and
// the same every time; all of them when the whole is asked for.
func TestOf(t *testing.T) {
	var list []int
	for i := range 100 {
		list = append(list, i)
	}
	kind := func(i int) string { // two kinds, and three hard cases at odd places
		switch i {
		case 17, 63, 99:
			return fmt.Sprint(i)
		}
		return fmt.Sprint(i%2 == 0)
	}
	for _, c := range []struct {
		all  string
		n    int
		want int
	}{{"", 20, 20}, {"0", 20, 20}, {"", 3, 5}, {"", 0, 5}, {"", 100, 100}, {"", 500, 100}, {"1", 20, 100}, {"yes", 0, 100}} {
		t.Setenv(Variable, c.all)
		got := Of(list, c.n, kind)
		if len(got) != c.want || !slices.IsSorted(got) || len(slices.Compact(slices.Clone(got))) != len(got) || !slices.Equal(got, Of(list, c.n, kind)) {
			t.Errorf("%q, %d: %d of them, want %d: %v", c.all, c.n, len(got), c.want, got)
		}
		for _, must := range []int{0, 1, 17, 63, 99} {
			if !slices.Contains(got, must) {
				t.Errorf("%q, %d: %d is left out", c.all, c.n, must)
			}
		}
		if (Count(3, 10) == 10) != (c.all != "" && c.all != "0") || All() != (Count(3, 10) == 10) {
			t.Errorf("%q: count %d, all %v", c.all, Count(3, 10), All())
		}
	}
	t.Setenv(Variable, "")
	// Closed form: the first is the one of its kind; of the 99 that are left the
	// middles of four stretches of 24.75 stand at 12, 37, 61 and 86.
	if got, want := Of(list, 5, nil), []int{0, 13, 38, 62, 87}; !slices.Equal(got, want) {
		t.Errorf("spread: %v, want %v", got, want)
	}
	if got := Of([]int(nil), 5, nil); len(got) != 0 {
		t.Errorf("of nothing: %v", got)
	}
}

// TestPart: each of the list in one part, and every part the whole where that is
// asked for.
func TestPart(t *testing.T) {
	list := []int{0, 1, 2, 3, 4, 5, 6}
	t.Setenv(Variable, "")
	var all []int
	for k := range 3 {
		all = append(all, Part(list, k, 3)...)
	}
	if slices.Sort(all); !slices.Equal(all, list) || !slices.Equal(Part(list, 4, 3), []int{1, 4}) {
		t.Errorf("the parts are %v, the fifth of three %v", all, Part(list, 4, 3))
	}
	t.Setenv(Variable, "1")
	if got := Part(list, 1, 3); !slices.Equal(got, list) {
		t.Errorf("the whole is %v", got)
	}
}

// TestChecks: as many as are asked for, within the test alone.
func TestChecks(t *testing.T) {
	made := func(t *testing.T) (n int) {
		rapid.Check(t, func(*rapid.T) { n++ })
		return n
	}
	usual, err := strconv.Atoi(flag.Lookup("rapid.checks").DefValue)
	if err != nil {
		t.Fatal(err)
	}
	for all, want := range map[string]int{"": 7, "1": usual} {
		t.Setenv(Variable, all)
		t.Run("all "+all, func(t *testing.T) {
			Checks(t, 7)
			if n := made(t); n != want {
				t.Errorf("%d checks, want %d", n, want)
			}
		})
		if n := made(t); n != usual {
			t.Errorf("%d checks in the next test, want %d", n, usual)
		}
	}
}
