package oracle

import (
	"cmp"
	"math"
	"slices"
)

// Repair is one cure with the probability that it is the one needed.
type Repair struct {
	P, Cost float64
	Cluster int // cover it lies behind, 0 = none
}

// Permutations calls do with every order of 0..n-1; do must not keep it.
func Permutations(n int, do func([]int)) {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	var visit func(int)
	visit = func(k int) {
		if k == n {
			do(order)
			return
		}
		for i := k; i < n; i++ {
			order[k], order[i] = order[i], order[k]
			visit(k + 1)
			order[k], order[i] = order[i], order[k]
		}
	}
	visit(0)
}

// ByRatio is the order of most probability for cost, as p over c says.
func ByRatio(r []Repair) []int {
	return sortedBy(r, func(x Repair) float64 { return x.P / x.Cost })
}

// ByProbability is the order of most probable first.
func ByProbability(r []Repair) []int {
	return sortedBy(r, func(x Repair) float64 { return x.P })
}

func sortedBy(r []Repair, key func(Repair) float64) []int {
	order := make([]int, len(r))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(key(r[b]), key(r[a])) })
	return order
}

// ExpectedCost of repairing in an order until the fault is gone, each repair
// being proved at once. Opening a cover costs once when it can stay open, and
// at every visit when it must be closed to see whether the repair helped;
// repairs done in a row behind one cover then each open it again.
func ExpectedCost(r []Repair, order []int, opening []float64, staysOpen bool) float64 {
	left, cost := 1.0, 0.0
	open := map[int]bool{}
	for _, i := range order {
		c := r[i].Cost
		if k := r[i].Cluster; k > 0 && !(staysOpen && open[k]) {
			c += opening[k]
			open[k] = true
		}
		cost += left * c
		left -= r[i].P
	}
	return cost
}

// Best is the cheapest order by trying all of them.
func Best(r []Repair, opening []float64, staysOpen bool) (order []int, cost, worst float64) {
	cost, worst = math.Inf(1), math.Inf(-1)
	Permutations(len(r), func(o []int) {
		c := ExpectedCost(r, o, opening, staysOpen)
		worst = math.Max(worst, c)
		if c < cost-1e-12 {
			cost, order = c, slices.Clone(o)
		}
	})
	return order, cost, worst
}

// Posterior is Bayes' rule.
func Posterior(prior, likelihood []float64) (post []float64, evidence float64) {
	post = make([]float64, len(prior))
	for i := range prior {
		post[i] = prior[i] * likelihood[i]
		evidence += post[i]
	}
	for i := range post {
		post[i] /= evidence
	}
	return post, evidence
}

// Troubleshooting mixes repairs, tests with noise, and giving up.
type Troubleshooting struct {
	Prior    []float64
	Replace  []float64 // cost of the cure of state i; a state beyond its end has none
	GiveUp   float64   // cures everything
	TestCost []float64
	Positive [][]float64 // per test and state P(positive)
}

// situation is what has been done: repairs that did not help, and answers.
type situation struct {
	failed  uint64
	answers [8]int8 // 0 not asked, 1 positive, -1 negative
}

// Value is the least expected cost and what to do first: "give up",
// "replace i" or "test i" by kind and number.
func (t *Troubleshooting) Value() (cost float64, kind string, which int) {
	memo := map[situation]float64{}
	return t.best(situation{}, memo)
}

// ValueAfter is the least expected cost once these repairs have not helped.
func (t *Troubleshooting) ValueAfter(failed ...int) float64 {
	s := situation{}
	for _, i := range failed {
		s.failed |= 1 << i
	}
	c, _, _ := t.best(s, map[situation]float64{})
	return c
}

func (t *Troubleshooting) belief(s situation) []float64 {
	p := make([]float64, len(t.Prior))
	total := 0.0
	for i := range p {
		if s.failed>>i&1 == 1 {
			continue
		}
		p[i] = t.Prior[i]
		for k := range t.TestCost {
			switch s.answers[k] {
			case 1:
				p[i] *= t.Positive[k][i]
			case -1:
				p[i] *= 1 - t.Positive[k][i]
			}
		}
		total += p[i]
	}
	for i := range p {
		p[i] /= total
	}
	return p
}

func (t *Troubleshooting) best(s situation, memo map[situation]float64) (cost float64, kind string, which int) {
	p := t.belief(s)
	value := func(q situation) float64 {
		if v, ok := memo[q]; ok {
			return v
		}
		v, _, _ := t.best(q, memo)
		memo[q] = v
		return v
	}
	cost, kind = t.GiveUp, "give up"
	for i, c := range t.Replace {
		if s.failed>>i&1 == 1 {
			continue
		}
		q := s
		q.failed |= 1 << i
		v := c
		if p[i] < 1 {
			v += (1 - p[i]) * value(q)
		}
		if v < cost-1e-12 {
			cost, kind, which = v, "replace", i
		}
	}
	for k, c := range t.TestCost {
		if s.answers[k] != 0 {
			continue
		}
		pos := 0.0
		for i := range p {
			pos += p[i] * t.Positive[k][i]
		}
		yes, no := s, s
		yes.answers[k], no.answers[k] = 1, -1
		if v := c + pos*value(yes) + (1-pos)*value(no); v < cost-1e-12 {
			cost, kind, which = v, "test", k
		}
	}
	return cost, kind, which
}
