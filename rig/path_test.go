package rig

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// nearest is the oracle: plain uniform-cost search over every place at once,
// with Moves and Meets alone. It returns the least cost [min/1000], -1 if the
// target is out of reach.
func nearest(r *Rig, from State, want Target) int {
	cost, done := map[State]int{from: 0}, map[State]bool{}
	for {
		at, best := State(0), -1
		for s, c := range cost {
			if !done[s] && (best < 0 || c < best) {
				at, best = s, c
			}
		}
		if best < 0 || r.Meets(at, want) {
			return best
		}
		done[at] = true
		for _, o := range r.Moves(at) {
			c := best + int(math.Round(o.Move.Minutes*1000))
			if old, ok := cost[o.To]; len(o.Refused) == 0 && (!ok || c < old) {
				cost[o.To] = c
			}
		}
	}
}

// follow checks that a plan is a chain of legal moves that ends in its target
// and adds up.
func follow(t interface{ Fatalf(string, ...any) }, r *Rig, from State, want Target, p Plan) {
	at, minutes := from, 0.0
	for _, step := range p.Steps {
		k := slices.IndexFunc(r.Moves(at), func(o Option) bool { return o.Step == step && len(o.Refused) == 0 })
		if k < 0 || step.From != at {
			t.Fatalf("%q is not a legal move here", step.Move.Say)
		}
		if ok, _ := r.Allowed(step.To); !ok {
			t.Fatalf("%q leads to a forbidden state", step.Move.Say)
		}
		at, minutes = step.To, minutes+step.Move.Minutes
	}
	// Minutes are summed in the same order: nothing but rounding may differ.
	if at != p.Final || !r.Meets(at, want) || math.Abs(minutes-p.Minutes) > 1e-9 || p.Elapsed < p.Minutes-1e-9 {
		t.Fatalf("ends at %x after %v min; plan says %x, %v, %v", at, minutes, p.Final, p.Minutes, p.Elapsed)
	}
}

// drawRig makes a small rig: up to four places of two or three positions with
// moves, guards and forbidden states at random.
func drawRig(t *rapid.T) *Rig {
	n := rapid.IntRange(1, 4).Draw(t, "places")
	places := make([]Place, n)
	for i := range places {
		places[i].ID = string(rune('a' + i))
		for k := range rapid.IntRange(2, 3).Draw(t, "positions") {
			places[i].Positions = append(places[i].Positions, Position{ID: string(rune('0' + k)), Inert: rapid.Bool().Draw(t, "inert")})
		}
	}
	cond := func(not int) (Cond, bool) {
		i := rapid.IntRange(0, n-1).Draw(t, "on")
		p := rapid.IntRange(0, len(places[i].Positions)-1).Draw(t, "at")
		return Cond{Place: i, Positions: []int{p}, Rule: "R", Why: "drawn"}, i != not
	}
	for i := range places {
		for a := range places[i].Positions {
			for b := range places[i].Positions {
				if a == b || rapid.IntRange(0, 9).Draw(t, "missing") == 0 {
					continue
				}
				m := Move{From: a, To: b, Say: "move", Minutes: float64(rapid.IntRange(1, 9).Draw(t, "minutes"))}
				if c, ok := cond(i); ok && rapid.Bool().Draw(t, "guarded") {
					m.Needs = []Cond{c}
				}
				places[i].Moves = append(places[i].Moves, m)
			}
		}
	}
	var never []Never
	for range rapid.IntRange(0, 4).Draw(t, "rows") {
		a, _ := cond(-1)
		if b, ok := cond(a.Place); ok && a.Positions[0]+b.Positions[0] > 0 { // rest stays allowed
			never = append(never, Never{When: []Cond{a, b}, Rule: "N", Why: "drawn"})
		}
	}
	r, err := New(places, never, 0)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return r
}

// TestPathIsLegalAndCheapest compares Path with uniform search over everything,
// on rigs drawn at random.
func TestPathIsLegalAndCheapest(t *testing.T) {
	reached, not := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		r := drawRig(t)
		var want Target
		for i := range r.Places {
			if rapid.Bool().Draw(t, "named") {
				want.Positions[i] = 1 << rapid.IntRange(0, len(r.Places[i].Positions)-1).Draw(t, "wanted")
			}
		}
		p, err := r.Path(r.Rest, want)
		best := nearest(r, r.Rest, want)
		if err != nil {
			if best >= 0 || !strings.Contains(err.Error(), "cannot be reached") {
				t.Fatalf("uniform search gets there in %d: %v", best, err)
			}
			not++
			return
		}
		follow(t, r, r.Rest, want, p)
		if got := int(math.Round(p.Minutes * 1000)); got != best {
			t.Fatalf("%d, uniform search %d", got, best)
		}
		reached++
	})
	t.Logf("%d targets reached, %d out of reach", reached, not)
	if reached == 0 || not == 0 {
		t.Errorf("the draw must hold both: %d reached, %d not", reached, not)
	}
}

// costs is Dijkstra's over the vehicle's whole graph.
func (g *graph) costs(r *Rig, from State) []int32 {
	cost := make([]int32, len(g.states))
	for k := range cost {
		cost[k] = far
	}
	s := search{tables: r.compiled()} // its heap only
	push := func(k, c int32) {
		if c < cost[k] {
			cost[k] = c
			s.push(g.states[k], c)
		}
	}
	push(g.index[from], 0)
	for len(s.heap) > 0 {
		e := s.pop()
		k := g.index[e.state]
		if e.cost > cost[k] {
			continue
		}
		edge := g.start[k]
		for _, o := range r.Moves(e.state) {
			if len(o.Refused) == 0 {
				push(g.to[edge], e.cost+int32(math.Round(o.Move.Minutes*1000)))
				edge++
			}
		}
	}
	return cost
}

// TestPathOnTheVehicle compares Path with Dijkstra over the whole graph of the
// shipped vehicle, from rest and from states drawn at random.
func TestPathOnTheVehicle(t *testing.T) {
	v := load(t)
	g := v.graph()
	rng := rand.New(rand.NewPCG(7, 2))
	froms := []State{v.Rest}
	for range 3 {
		froms = append(froms, g.states[rng.IntN(len(g.states))])
	}
	most, sum, n, out := 0, 0, 0, 0
	for _, from := range froms {
		cost := g.costs(v.Rig, from)
		for range 60 {
			want := drawTarget(v.Rig, rng, g.states[rng.IntN(len(g.states))])
			best := int32(far)
			for k, s := range g.states {
				if cost[k] < best && v.Meets(s, want) {
					best = cost[k]
				}
			}
			p, err := v.Path(from, want)
			if err != nil {
				if best < far {
					t.Fatalf("from %s: %v; but it can be had for %d", v.say(from), err, best)
				}
				out++
				continue
			}
			follow(t, v.Rig, from, want, p)
			if got := int32(math.Round(p.Minutes * 1000)); got != best {
				t.Errorf("from %s to %s: %d, Dijkstra %d", v.say(from), v.say(p.Final), got, best)
			}
			most, sum, n = max(most, p.Work), sum+p.Work, n+1
		}
	}
	// The point of the abstraction: no search comes near the whole graph.
	if most > len(g.states)/10 {
		t.Errorf("one search looked at %d of %d states", most, len(g.states))
	}
	t.Logf("%d targets, %d more out of reach; states looked at: mean %d, most %d of %d", n, out, sum/n, most, len(g.states))
}

// drawTarget names one to four places as they stand in some state.
func drawTarget(r *Rig, rng *rand.Rand, s State) Target {
	var want Target
	for range 1 + rng.IntN(4) {
		i := rng.IntN(len(r.Places))
		want.Positions[i] = 1 << s.At(i)
	}
	return want
}
