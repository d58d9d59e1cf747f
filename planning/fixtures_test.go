package planning

import (
	"math"
	"testing"

	"chargewright/internal/oracle"
)

// The planner's own entropy in problems small enough to be solved exactly. Where
// a figure says computed it is our own exact dynamic programming, not a printed
// one; the hook-up fixture is the one that matters: change of hook-up must be
// counted in the cost of a test.

func agree(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.10g, want %.10g", what, got, want)
	}
}

// hookups is P = (.35 .25 .20 .12 .08), tests a1 a2 in one hook-up and b1 b2 b3
// in another (ours, computed).
func hookups() *oracle.Sequencing {
	const a, b = 0, 1
	return &oracle.Sequencing{
		Prior: []float64{.35, .25, .20, .12, .08},
		Tests: []oracle.Test{
			{Name: "a1", Mode: a, Cost: 2, Positive: 0b00011},
			{Name: "a2", Mode: a, Cost: 3, Positive: 0b01101},
			{Name: "b1", Mode: b, Cost: 1, Positive: 0b00001},
			{Name: "b2", Mode: b, Cost: 1, Positive: 0b00110},
			{Name: "b3", Mode: b, Cost: 2, Positive: 0b01000},
		},
		Switch: [][]float64{{0, 4}, {6, 0}},
	}
}

func TestHookUpsCountInTheCost(t *testing.T) {
	p := hookups()
	for _, c := range []struct {
		mode                             int
		optimum, counted, ignored, ahead float64
		first                            string
	}{{0, 6.2, 6.6, 9.55, 6.2, "a1"}, {1, 5.55, 5.55, 5.55, 5.55, "b2"}} {
		cost, first := p.Optimum(c.mode)
		agree(t, "optimum (computed)", cost, c.optimum, 1e-9)
		if name := p.Tests[first].Name; name != c.first {
			t.Errorf("hook-up %d: first test %s, want %s", c.mode, name, c.first)
		}
		start := oracle.Place{Left: p.All(), Mode: c.mode}
		counted := p.Greedy(oracle.Information(entropy), true)
		agree(t, "bits per minute, change counted (computed)", p.Follow(start, counted), c.counted, 1e-9)
		agree(t, "bits per minute, change ignored (computed)", p.Follow(start, p.Greedy(oracle.Information(entropy), false)), c.ignored, 1e-9)
		agree(t, "one step tried, then bits per minute (computed)", p.Follow(start, p.Rollout(counted)), c.ahead, 1e-9)
	}
}

func TestFiveStates(t *testing.T) {
	// table: the five-state matrix of the test-sequencing literature (memory); optimum
	// and greedy costs computed.
	p := &oracle.Sequencing{
		Prior: []float64{.70, .01, .02, .10, .17},
		Tests: []oracle.Test{{Cost: 1, Positive: 0b11000}, {Cost: 1, Positive: 0b10010}, {Cost: 1, Positive: 0b00100}, {Cost: 1, Positive: 0b01100}, {Cost: 1, Positive: 0b01010}},
	}
	cost, first := p.Optimum(0)
	agree(t, "optimum (computed)", cost, 2.12, 1e-9)
	if first != 1 {
		t.Errorf("first test %d, want the second", first+1)
	}
	start := oracle.Place{Left: p.All()}
	gain := oracle.Information(entropy)
	agree(t, "most bits first (computed)", p.Follow(start, p.Greedy(gain, true)), 2.71, 1e-9)
	agree(t, "most pairs parted first (computed)", p.Follow(start, p.Greedy(oracle.Edges, true)), 2.71, 1e-9)
	agree(t, "Huffman bound (computed)", p.Huffman(), 1.46, 1e-9)
	agree(t, "entropy of the prior (computed)", entropy(p.Prior), 1.3062965855, 1e-10)
	for k, want := range []float64{.8414646362, .6800770457, .1414405425, .5293608653, .4999159582} {
		var pos, neg []float64
		for i, v := range p.Prior {
			if p.Tests[k].Positive>>i&1 == 1 {
				pos = append(pos, v)
			} else {
				neg = append(neg, v)
			}
		}
		agree(t, "bits of a test (computed)", gain(pos, neg), want, 1e-10)
	}
}

func TestTenStates(t *testing.T) {
	// computed: ten states and fifteen tests of our own, exact dynamic programming.
	rows := []string{"0000001001", "0011001101", "0111000011", "0111111011", "0101111000", "0000000000", "0010001100", "0111010001", "0000111100", "0110010000", "0101000100", "0111000011", "0110001000", "0100011011", "0110010011"}
	cost := []float64{4, 6, 7, 2, 4, 8, 3, 2, 2, 6, 4, 4, 8, 8, 5}
	p := &oracle.Sequencing{Prior: []float64{.4001, .1169, .0128, .0407, .0729, .1366, .1246, .0291, .0343, .0320}}
	for k, row := range rows {
		test := oracle.Test{Cost: cost[k]}
		for i, c := range row {
			if c == '1' {
				test.Positive |= 1 << i
			}
		}
		p.Tests = append(p.Tests, test)
	}
	best, _ := p.Optimum(0)
	agree(t, "optimum", best, 7.0146, 1e-9)
	start := oracle.Place{Left: p.All()}
	agree(t, "bits per cost", p.Follow(start, p.Greedy(oracle.Information(entropy), true)), 7.4661, 1e-9)
	agree(t, "pairs parted per cost", p.Follow(start, p.Greedy(oracle.Edges, true)), 7.4661, 1e-9)
	if v := p.Follow(start, p.Rollout(p.Greedy(oracle.Information(entropy), true))); v < best-1e-9 || v > 7.4661+1e-9 {
		t.Errorf("one step tried costs %.4f: it lies between the optimum and its own base", v)
	}
	useless := oracle.Place{Left: p.All()}
	for _, rigging := range []bool{true, false} {
		if p.Greedy(oracle.Information(entropy), rigging)(useless) == 5 {
			t.Error("the test that splits nothing was chosen")
		}
	}
}
