package drawing

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// TestLengthsAreWrittenShort: a length is written as the shortest decimal of its tenths,
// as the standard library writes them, and never as less than nothing when it is nothing.
func TestLengthsAreWrittenShort(t *testing.T) {
	same := func(x float64) bool {
		return num(x) == strconv.FormatFloat(math.Round(x*10)/10+0, 'f', -1, 64)
	}
	for _, x := range []float64{0, math.Copysign(0, -1), -0.04, -0.05, 0.05, 9.96, 10, -10.25, 999999.95, 1e12, -1e12} {
		if !same(x) {
			t.Errorf("%g is written %s", x, num(x))
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		if x := rapid.Float64Range(-3000, 3000).Draw(t, "length"); !same(x) {
			t.Fatalf("%g is written %s", x, num(x))
		}
	})
}

// TestCostIsTheSameUnderALimit: a place that a limit leaves costs what it costs without
// one, and one that it cuts off would not have been taken.
func TestCostIsTheSameUnderALimit(t *testing.T) {
	f := &field{bounds: Rect{0, 0, 400, 300}, boxes: []taken{{box: Rect{50, 50, 90, 80}}, {Rect{200, 100, 260, 130}, true}}}
	f.line([]Pt{{0, 150}, {400, 160}}, 2.5, false)
	f.line([]Pt{{120, 0}, {120, 300}}, 1, true)
	rapid.Check(t, func(t *rapid.T) {
		box := Pt{rapid.Float64Range(0, 400).Draw(t, "x"), rapid.Float64Range(0, 300).Draw(t, "y")}.sized(40, 20)
		already, most := rapid.Float64Range(0, 100).Draw(t, "already"), rapid.Float64Range(0, 1000).Draw(t, "most")
		all := f.cost(box)
		switch c, _ := f.costUnder(box, already, most); {
		case c == all:
		case math.IsInf(c, 1) && already+all >= most:
		default:
			t.Fatalf("costs %g, under a limit %g", all, c)
		}
		if math.IsInf(all, 1) == f.open(box) {
			t.Fatalf("costs %g, but open is %t", all, f.open(box))
		}
	})
}
