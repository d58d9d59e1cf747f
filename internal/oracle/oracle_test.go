package oracle_test

import (
	"math"
	"slices"
	"testing"

	"chargewright/internal/oracle"
)

// The numbers are exact solutions of small problems. "computed" is our own
// exact enumeration (closed form); it is not a printed figure.

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.10g, want %.10g", what, got, want)
	}
}

func TestProbabilityOverCost(t *testing.T) {
	// closed form: Kadane & Simon 1977, p/c rule; figures computed over 120 orders.
	r := []oracle.Repair{{P: .30, Cost: 10}, {P: .25, Cost: 5}, {P: .20, Cost: 20}, {P: .15, Cost: 2}, {P: .10, Cost: 8}}
	order := oracle.ByRatio(r)
	if !slices.Equal(order, []int{3, 1, 0, 4, 2}) {
		t.Errorf("p/c orders %v", order)
	}
	best, cost, worst := oracle.Best(r, nil, true)
	if !slices.Equal(best, order) {
		t.Errorf("trying all orders gives %v, p/c gives %v", best, order)
	}
	near(t, "least cost (computed)", cost, 18.65, 1e-12)
	near(t, "greatest cost (computed)", worst, 35.70, 1e-12)
	near(t, "most probable first (computed)", oracle.ExpectedCost(r, oracle.ByProbability(r), nil, true), 23.80, 1e-12)
}

func TestCostCluster(t *testing.T) {
	// closed form: cost clusters with inside information, Ottosen & Jensen (arXiv 1203.3502,
	// abstract read); the instance is ours, figures computed.
	r := []oracle.Repair{{P: .20, Cost: 4}, {P: .15, Cost: 6}, {P: .30, Cost: 3, Cluster: 1}, {P: .20, Cost: 2, Cluster: 1}, {P: .15, Cost: 9, Cluster: 1}}
	opening := []float64{0, 10}
	best, cost, _ := oracle.Best(r, opening, true)
	if !slices.Equal(best, []int{0, 2, 3, 1, 4}) {
		t.Errorf("best order %v, want a k1 k2 b k3", best)
	}
	near(t, "inside information (computed)", cost, 18.55, 1e-12)
	near(t, "opening ignored (computed)", oracle.ExpectedCost(r, oracle.ByRatio(r), opening, true), 19.55, 1e-12)
	charged := slices.Clone(r)
	for i := range charged {
		charged[i].Cost += opening[charged[i].Cluster]
	}
	near(t, "opening charged to each (computed)", oracle.ExpectedCost(r, oracle.ByRatio(charged), opening, true), 19.30, 1e-12)
	_, closed, _ := oracle.Best(r, opening, false)
	near(t, "10 at every visit (computed)", closed, 24.30, 1e-12)
}

func TestObserveOrRepair(t *testing.T) {
	// closed form: expected cost of observation, Heckerman, Breese & Rommelse 1995; figures computed.
	prior, plus := []float64{.5, .3, .2}, []float64{.9, .2, .1}
	minus := []float64{.1, .8, .9}
	cost := func(p []float64) float64 {
		r := []oracle.Repair{{P: p[0], Cost: 40}, {P: p[1], Cost: 60}, {P: p[2], Cost: 100}}
		_, c, _ := oracle.Best(r, nil, true)
		return c
	}
	up, pUp := oracle.Posterior(prior, plus)
	down, pDown := oracle.Posterior(prior, minus)
	near(t, "repair now", cost(prior), 90, 1e-9)
	near(t, "P(+)", pUp, 0.53, 1e-12)
	near(t, "posterior given +", up[0], .8490566038, 1e-10)
	near(t, "posterior given -", down[1], .5106382979, 1e-10)
	near(t, "cost given +", cost(up), 52.8301886792, 1e-9)
	near(t, "cost given -", cost(down), 113.1914893617, 1e-9)
	near(t, "cost with the observation", 5+pUp*cost(up)+pDown*cost(down), 86.2, 1e-9)
}

func TestRepairMixedWithTests(t *testing.T) {
	// closed form: our completion of the computer repair example of a university's operations
	// research site (its costs read, its probabilities not); optima computed.
	at := func(scale float64) oracle.Troubleshooting {
		return oracle.Troubleshooting{
			Prior: []float64{.30, .20, .25, .15, .10}, Replace: []float64{100, 200, 30, 80}, GiveUp: 500,
			TestCost: []float64{50 * scale, 70 * scale, 80 * scale},
			Positive: [][]float64{{.9, .9, .1, .1, .5}, {.95, .05, .5, .5, .5}, {.05, .05, .95, .05, .05}},
		}
	}
	for _, c := range []struct {
		scale, cost float64
		kind        string
		which       int
	}{{1, 251, "replace", 2}, {.4, 231.665, "test", 0}, {.2, 212.705, "test", 0}, {.1, 201.63075, "test", 0}} {
		p := at(c.scale)
		cost, kind, which := p.Value()
		near(t, "expected cost (computed)", cost, c.cost, 1e-9)
		if kind != c.kind || which != c.which {
			t.Errorf("prices x %g: first %s %d, want %s %d", c.scale, kind, which, c.kind, c.which)
		}
	}
	p := at(1)
	near(t, "after C (computed)", p.ValueAfter(2), 294.666666666667, 1e-9)
	near(t, "after C, A (computed)", p.ValueAfter(2, 0), 324.444444444444, 1e-9)
	near(t, "after C, A, D (computed)", p.ValueAfter(2, 0, 3), 366.666666666667, 1e-9)
}

func TestTiger(t *testing.T) {
	// table: printed output of the R package pomdp, discount .75 (read): 1.933439.
	tiger := oracle.Tiger{Listen: -1, Right: 10, Wrong: -100, Accuracy: .85, Discount: .75}
	near(t, "discount .75", tiger.Value(), 1.933439, 5e-7)
	near(t, "discount .75, more digits (computed)", tiger.Value(), 1.9334389857, 1e-9)
	tiger.Discount = .95
	near(t, "discount .95 (computed; 19.37 is commonly quoted: memory)", tiger.Value(), 19.3713683746, 1e-8)
}
