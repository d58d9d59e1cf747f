// Package oracle solves small troubleshooting problems exactly, so that a
// planner or a policy has something true to be held against. It is slow on
// purpose, serves tests and the benchmark only, and refuses nothing: a problem
// of more than about fifteen states takes longer than a test has.
//
// Open sequencing.go for tests in hook-ups, repairs.go for repair orders and
// for repairs mixed with tests, tiger.go for one noisy question.
package oracle

import (
	"math"
	"math/bits"
)

// Test is a question answered without noise.
type Test struct {
	Name     string
	Mode     int     // hook-up it is done in
	Cost     float64 // of the test itself
	Positive uint64  // states in which it reads positive, one bit each
}

// Sequencing asks for the cheapest way to find out which state holds.
type Sequencing struct {
	Prior  []float64
	Tests  []Test
	Switch [][]float64 // cost of changing from one hook-up to another; nil = none
}

// Place is where a search stands: states still possible and the hook-up.
type Place struct {
	Left uint64
	Mode int
}

// Policy chooses the next test, -1 for none.
type Policy func(Place) int

// All is every state.
func (s *Sequencing) All() uint64 { return 1<<len(s.Prior) - 1 }

// Mass is the prior probability of a set of states.
func (s *Sequencing) Mass(set uint64) float64 {
	m := 0.0
	for i, p := range s.Prior {
		if set>>i&1 == 1 {
			m += p
		}
	}
	return m
}

func (s *Sequencing) shares(set uint64) []float64 {
	var out []float64
	for i, p := range s.Prior {
		if set>>i&1 == 1 {
			out = append(out, p)
		}
	}
	return out
}

// marginal is what test t costs from a hook-up, the change counted in.
func (s *Sequencing) marginal(t, mode int) float64 {
	if s.Switch == nil {
		return s.Tests[t].Cost
	}
	return s.Tests[t].Cost + s.Switch[mode][s.Tests[t].Mode]
}

func (s *Sequencing) splits(t int, left uint64) bool {
	pos := left & s.Tests[t].Positive
	return pos != 0 && pos != left
}

// after is the expected cost of doing t now and going on as rest says.
func (s *Sequencing) after(t int, p Place, rest func(Place) float64) float64 {
	pos, neg := p.Left&s.Tests[t].Positive, p.Left&^s.Tests[t].Positive
	mode := s.Tests[t].Mode
	all := s.Mass(p.Left)
	return s.marginal(t, p.Mode) + s.Mass(pos)/all*rest(Place{pos, mode}) + s.Mass(neg)/all*rest(Place{neg, mode})
}

// Optimum is the least expected cost from a hook-up and the first test of it,
// by dynamic programming over every set of states.
func (s *Sequencing) Optimum(mode int) (cost float64, first int) {
	memo := map[Place]float64{}
	var value func(Place) float64
	value = func(p Place) float64 {
		if bits.OnesCount64(p.Left) <= 1 {
			return 0
		}
		if v, ok := memo[p]; ok {
			return v
		}
		best := math.Inf(1)
		for t := range s.Tests {
			if s.splits(t, p.Left) {
				best = math.Min(best, s.after(t, p, value))
			}
		}
		memo[p] = best
		return best
	}
	start := Place{s.All(), mode}
	cost, first = value(start), -1
	for t := range s.Tests {
		if s.splits(t, start.Left) && math.Abs(s.after(t, start, value)-cost) < 1e-12 {
			return cost, t
		}
	}
	return cost, first
}

// Follow is the expected cost of a policy from a place.
func (s *Sequencing) Follow(p Place, choose Policy) float64 {
	if bits.OnesCount64(p.Left) <= 1 {
		return 0
	}
	t := choose(p)
	if t < 0 {
		return math.Inf(1)
	}
	return s.after(t, p, func(q Place) float64 { return s.Follow(q, choose) })
}

// Gain scores a test by the probabilities of the states on either side of it.
type Gain func(positive, negative []float64) float64

// Information is the expected drop of an entropy, which must normalise.
func Information(entropy func([]float64) float64) Gain {
	return func(pos, neg []float64) float64 {
		a, b := sum(pos), sum(neg)
		all := append(append([]float64(nil), pos...), neg...)
		return entropy(all) - a/(a+b)*entropy(pos) - b/(a+b)*entropy(neg)
	}
}

// Edges is the weight of the pairs of states that the test parts.
func Edges(pos, neg []float64) float64 { return sum(pos) * sum(neg) }

func sum(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s
}

// Greedy takes the test with the most gain per cost; with rigging the change of
// hook-up is counted in the cost, without it is ignored. Of equals the first.
func (s *Sequencing) Greedy(gain Gain, rigging bool) Policy {
	return func(p Place) int {
		best, at := 0.0, -1
		for t := range s.Tests {
			if !s.splits(t, p.Left) {
				continue
			}
			cost := s.Tests[t].Cost
			if rigging {
				cost = s.marginal(t, p.Mode)
			}
			g := gain(s.shares(p.Left&s.Tests[t].Positive), s.shares(p.Left&^s.Tests[t].Positive)) / cost
			if g > best+1e-12 {
				best, at = g, t
			}
		}
		return at
	}
}

// Rollout tries every test once and goes on as the base policy would.
func (s *Sequencing) Rollout(base Policy) Policy {
	return func(p Place) int {
		best, at := math.Inf(1), -1
		for t := range s.Tests {
			if !s.splits(t, p.Left) {
				continue
			}
			if c := s.after(t, p, func(q Place) float64 { return s.Follow(q, base) }); c < best-1e-12 {
				best, at = c, t
			}
		}
		return at
	}
}

// Huffman is the least expected number of yes-or-no answers any set of tests
// could need: a lower bound when every test costs 1.
func (s *Sequencing) Huffman() float64 {
	w := append([]float64(nil), s.Prior...)
	total := 0.0
	for len(w) > 1 {
		i, j := 0, 1
		if w[j] < w[i] {
			i, j = j, i
		}
		for k := 2; k < len(w); k++ {
			switch {
			case w[k] < w[i]:
				i, j = k, i
			case w[k] < w[j]:
				j = k
			}
		}
		m := w[i] + w[j]
		total += m
		if i > j {
			i, j = j, i
		}
		w = append(w[:j], w[j+1:]...)
		w[i] = m
	}
	return total
}
