package planning

import (
	"math"
	"testing"

	"chargewright/internal/near"
)

// byHand is a player of three fits in two classes and one measured procedure of one value,
// read with a standard deviation of 1.
func byHand(means ...float64) *player {
	pl := &player{
		c:     &classes{names: []string{"a", "b", beyond}},
		parts: []part{{0, 0, 0}, {1, 0, 1}, {1, 1, 1}}, weight: []float64{0.5, 0.25, 0.25},
		gauges: make([][]*gauge, 1), looks: make([][]float64, 1), box: []float64{1000}, eps: 0.02,
	}
	for _, m := range means {
		g := gauge{mean: []float64{m}, chol: []float64{1}}
		g.far = -2 * (nothing + float64(1)*halfLog2Pi)
		pl.gauges[0] = append(pl.gauges[0], &g)
	}
	for i := range pl.sums {
		pl.sums[i] = make([]float64, len(pl.c.names))
	}
	return pl
}

// TestParting: between a class at 0 and one at 2 and 4 (mean 3, own variance 1), half each,
// the variance between is 2.25 and the one within 1 + 0.5.
func TestParting(t *testing.T) {
	pl := byHand(0, 2, 4)
	ratio, more := pl.ratio(0, 0, pl.weight)
	near.Check(t, "ratio", ratio, 2.25/1.5, near.Tol{Rel: 1e-12}, "closed form: law of total variance")
	if _, second := pl.ratio(0, 1, pl.weight); !more || second {
		t.Error("one value, and it says otherwise")
	}
	class, total, _ := pl.byClass(pl.weight)
	near.Check(t, "bits", pl.parting(0, pl.weight, class, total), 0.5*math.Log2(2.5), near.Tol{Rel: 1e-12}, "closed form: half the logarithm of 1 + 1.5")
	if far := byHand(0, 1e6, 1e6); far.parting(0, far.weight, class, total) != 1 {
		t.Error("two equal classes hold one bit, and no value tells more")
	}
}

// TestLookParting: a look that answers 0.9 and 0.1 for the one class and the other way
// round for the other.
func TestLookParting(t *testing.T) {
	pl := byHand(0, 0, 0)
	look := []float64{0.9, 0.1, 0.1, 0.9, 0.1, 0.9}
	class, total, _ := pl.byClass(pl.weight)
	want := 1 + 0.9*math.Log2(0.9) + 0.1*math.Log2(0.1)
	near.Check(t, "bits", pl.lookParting(look, pl.weight, class, total), want, near.Tol{Rel: 1e-12}, "closed form: capacity of a symmetric binary channel")
}

// TestDrawnReadings: the same vehicle gives the same reading whoever asks, and over many
// vehicles a reading moves the shares as Bayes' rule has it: the mean of the share after is
// the share before.
func TestDrawnReadings(t *testing.T) {
	pl := byHand(0, 2, 4)
	mean, n := 0.0, 4000
	for m := range n {
		truth := 0
		if m%4 == 2 {
			truth = 1
		} else if m%4 == 3 {
			truth = 2
		}
		a, b := append([]float64{}, pl.weight...), append([]float64{}, pl.weight...)
		pl.read(uint64(m), 0, truth, a)
		pl.read(uint64(m), 0, truth, b)
		for i := range a {
			if a[i] != b[i] {
				t.Fatalf("vehicle %d reads differently", m)
			}
		}
		mean += a[0] / (a[0] + a[1] + a[2]) / float64(n)
	}
	// The share after has a standard deviation under 0.5, its mean one under 0.5/sqrt(4000).
	near.Check(t, "mean share after", mean, 0.5, near.Tol{Abs: 4 * 0.5 / math.Sqrt(4000)}, "closed form: the expectation of a posterior is the prior; wrong values, which are not drawn, move it by under 0.001")
}
