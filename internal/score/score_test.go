package score_test

import (
	"math"
	"testing"

	"chargewright/internal/score"
)

// "computed" is our own arithmetic on a stated definition, not a printed figure.

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.10g, want %.10g", what, got, want)
	}
}

func TestEvents(t *testing.T) {
	// closed form: definitions; figures computed.
	p, y := []float64{.1, .9, .8, .3}, []float64{0, 1, 1, 0}
	near(t, "Brier", score.Brier(p, y), .0375, 1e-15)
	near(t, "log", score.Log(p, y), .1976348816, 1e-10)
	near(t, "Spiegelhalter", score.Spiegelhalter(p, y), -.8804509063, 1e-10)
}

func TestFaults(t *testing.T) {
	// closed form: definitions; figures computed.
	p := []float64{.7, .2, .1}
	for _, c := range []struct {
		truth      int
		brier, log float64
	}{{0, .14, .3566749439}, {2, 1.34, 2.3025850930}} {
		f := score.Fault{P: p, Truth: c.truth}
		near(t, "Brier over alternatives", f.Brier(), c.brier, 1e-12)
		near(t, "log", f.Log(), c.log, 1e-10)
	}
	if top := (score.Fault{P: []float64{.2, .4, .4}}).Top(); top != 1 {
		t.Errorf("top is %d, want the first of equals", top)
	}
	z := score.FaultZ([]score.Fault{{P: p}, {P: []float64{.5, .3, .2}, Truth: 1}, {P: []float64{.9, .05, .05}}, {P: []float64{.4, .4, .2}, Truth: 2}})
	near(t, "Z of faults", z, .0044280137, 1e-9)
}

func TestMurphy(t *testing.T) {
	// closed form: Murphy 1973, the definition read; figures computed.
	stated, n, hits := []float64{.1, .3, .7, .9}, []float64{10, 10, 10, 10}, []float64{1, 4, 6, 9}
	rel, res, unc := score.Murphy(stated, n, hits)
	near(t, "reliability", rel, .005, 1e-12)
	near(t, "resolution", res, .085, 1e-12)
	near(t, "uncertainty", unc, .25, 1e-12)
	var p, y []float64
	for i := range stated {
		for k := range int(n[i]) {
			p = append(p, stated[i])
			y = append(y, 0)
			if k < int(hits[i]) {
				y[len(y)-1] = 1
			}
		}
	}
	near(t, "their sum is the Brier score", score.Brier(p, y), rel-res+unc, 1e-12)
	gap, _ := score.Gap(p, y, 10)
	near(t, "gap", gap, .05, 1e-12)
}

func TestGap(t *testing.T) {
	// table: documented example of the expected calibration error (Guo et al. 2017), read.
	e, m := score.Gap([]float64{.25, .25, .75, .75}, []float64{0, 0, 1, 1}, 2)
	near(t, "expected", e, .25, 1e-15)
	near(t, "largest", m, .25, 1e-15)
}

func TestFloor(t *testing.T) {
	// closed form: one bin of n events at p: the gap is |mean - p|, whose mean is
	// sqrt(2 p (1-p) / (pi n)). 2,000 resamplings know it to 1.7 % (one sd): 6 %.
	p := make([]float64, 1000)
	for i := range p {
		p[i] = .55
	}
	mean, high := score.Floor(p, 10, 2000, 1)
	near(t, "floor", mean, math.Sqrt(2*.55*.45/math.Pi/1000), .06*mean)
	// The 95 % point of |N(0, sd)| is 1.96 sd; its sampling sd is about 3 %.
	near(t, "95 % of the floor", high, 1.96*math.Sqrt(.55*.45/1000), .1*high)
}

func TestRanks(t *testing.T) {
	// table: simulation-based calibration chapter of a statistical language's user guide, read
	// (its own last line, bin 50 for rank 999, is a slip).
	if r := score.Rank(1.01, []float64{1.07, -.32, -.99, 1.51}); r != 2 {
		t.Errorf("rank of the mean is %d, want 2", r)
	}
	if r := score.Rank(.23, []float64{.33, .14, .26, .31}); r != 1 {
		t.Errorf("rank of the spread is %d, want 1", r)
	}
	for _, c := range [][2]int{{0, 1}, {49, 1}, {50, 2}, {999, 20}} {
		if b := score.Bin(c[0], 999, 20); b != c[1] {
			t.Errorf("bin of rank %d is %d, want %d", c[0], b, c[1])
		}
	}
}

func TestChiSquared(t *testing.T) {
	// closed form: counts 10 and 30 against 20 each: 5 + 5 = 10, one degree of
	// freedom, p = erfc(sqrt(5)).
	x2, p := score.ChiSquared([]int{10, 30})
	near(t, "chi squared", x2, 10, 1e-12)
	near(t, "its probability", p, math.Erfc(math.Sqrt(5)), 1e-12)
	// table: chi-squared, 9 degrees of freedom, 99 %: 21.666 (computed). Counts with
	// one bin d above and one d below an expectation of 24 give d^2/12.
	d := 16 // 21.33, just inside
	counts := []int{24 + d, 24 - d, 24, 24, 24, 24, 24, 24, 24, 24}
	x2, p = score.ChiSquared(counts)
	near(t, "chi squared of ten bins", x2, float64(d*d)/12, 1e-12)
	if p < 0.01 || p > 0.012 {
		t.Errorf("p is %.5f: 21.33 lies just inside the 99 %% point 21.666", p)
	}
}

func TestHolm(t *testing.T) {
	// closed form: sorted .001 .004 .03 .5 against .01/4 .01/3 .01/2 .01: only the first falls.
	got := score.Holm([]float64{.03, .001, .5, .004}, .01)
	for i, want := range []bool{false, true, false, false} {
		if got[i] != want {
			t.Errorf("test %d: %v, want %v", i, got[i], want)
		}
	}
	if got := score.Holm([]float64{.002, .003}, .01); !got[0] || !got[1] {
		t.Errorf("both fall: .002 < .005, .003 < .01; got %v", got)
	}
}
