package rig

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// graph is every state that can be reached from rest, with its legal moves.
type graph struct {
	states []State
	index  map[State]int32
	start  []int32 // edges of state k: to[start[k]:start[k+1]]
	to     []int32
}

// explore walks the whole graph. offer is told of every move that a state
// offers, with what refuses it; the walk ends where it says that it has seen enough.
func explore(r *Rig, offer func(from State, i int, m *move, to State, refused []refuser) (enough bool)) *graph {
	t := r.compiled()
	g := &graph{states: []State{r.Rest}, index: map[State]int32{r.Rest: 0}}
	var refused []refuser
	for k := 0; k < len(g.states); k++ {
		g.start = append(g.start, int32(len(g.to)))
		at := g.states[k]
		for i := range t.moves {
			for j := range t.moves[i] {
				m := &t.moves[i][j]
				if m.from != at.At(i) {
					continue
				}
				refused = refused[:0]
				t.refusals(at, i, m, func(needs bool, k int) {
					if needs {
						refused = append(refused, refuser{i, j, k})
					} else {
						refused = append(refused, refuser{never: k, place: -1})
					}
				})
				to := at.With(i, m.to)
				if offer != nil && offer(at, i, m, to, refused) {
					return g
				}
				if len(refused) > 0 {
					continue
				}
				id, ok := g.index[to]
				if !ok {
					id = int32(len(g.states))
					g.index[to] = id
					g.states = append(g.states, to)
				}
				g.to = append(g.to, id)
			}
		}
	}
	g.start = append(g.start, int32(len(g.to)))
	return g
}

// graphs are those of the vehicles as they are shipped, by id, each walked once for
// all tests, which run one after the other.
var graphs = map[string]*graph{}

// graph is the vehicle's own.
func (v vehicle) graph() *graph {
	if graphs[v.id] == nil {
		graphs[v.id] = explore(v.Rig, nil)
	}
	return graphs[v.id]
}

// refuser is one guard of one move, or (place -1) one forbidden state.
type refuser struct{ place, move, never int }

func (r *Rig) every() []refuser {
	var out []refuser
	for i, p := range r.Places {
		for j, m := range p.Moves {
			for g := range m.Needs {
				out = append(out, refuser{i, j, g})
			}
		}
	}
	for k := range r.Never {
		out = append(out, refuser{-1, 0, k})
	}
	return out
}

func (r *Rig) name(x refuser) string {
	if x.place < 0 {
		return fmt.Sprintf("never %s: %s", r.Never[x.never].Rule, r.Never[x.never].Why)
	}
	p := r.Places[x.place]
	m := p.Moves[x.move]
	return fmt.Sprintf("%s %s to %s needs %s %s", p.ID, p.Positions[m.From].ID, p.Positions[m.To].ID, m.Needs[x.never].Rule, r.Places[m.Needs[x.never].Place].ID)
}

// without is the rig with one guard or forbidden state taken out.
func (r *Rig) without(x refuser) (*Rig, error) {
	places, never := slices.Clone(r.Places), slices.Clone(r.Never)
	if x.place < 0 {
		return New(places, slices.Delete(never, x.never, x.never+1), r.Rest)
	}
	moves := slices.Clone(places[x.place].Moves)
	moves[x.move].Needs = slices.Delete(slices.Clone(moves[x.move].Needs), x.never, x.never+1)
	places[x.place].Moves = moves
	return New(places, never, r.Rest)
}

// witness is a move that only one guard or row refused, and what it would break.
type witness struct {
	from      State
	place, to int
	broken    uint64 // invariants, by what this guard alone refuses anywhere
}

// TestEverySafetyRuleHoldsAndBites looks at every state and move that can be
// reached. Every invariant must hold. Every guard and forbidden state must have
// refused something, and for each there must be a move from a reachable state
// that it alone refused and that breaks an invariant: so taking it out of the
// data lets that very move through, which is then done. A forbidden state that
// guards keep off as well must be the only one to tell a hook-up that somebody
// came to otherwise.
func TestEverySafetyRuleHoldsAndBites(t *testing.T) { each(t, everySafetyRuleHoldsAndBites) }

func everySafetyRuleHoldsAndBites(t *testing.T, v vehicle) {
	list := invariants(v)
	refusals, caught := map[refuser]int{}, map[refuser]witness{}
	var bites uint64
	offered := 0
	g := explore(v.Rig, func(from State, i int, m *move, to State, refused []refuser) bool {
		offered++
		for _, x := range refused {
			refusals[x]++
		}
		switch len(refused) {
		case 0:
			if k := broken(list, from, i, to); k != 0 {
				t.Fatalf("%s: from %s; then %s", named(list, k), v.say(from), m.move.Say)
			}
		case 1:
			if k := broken(list, from, i, to); k != 0 {
				caught[refused[0]] = witness{from, i, m.to, caught[refused[0]].broken | k}
				bites |= k
			}
		}
		return false
	})
	graphs[v.id] = g
	if k := broken(list, v.Rest, -1, v.Rest); k != 0 {
		t.Fatalf("%s: broken at rest", named(list, k))
	}
	t.Logf("%d states, %d moves offered, %d legal", len(g.states), offered, len(g.to))
	for _, x := range v.every() {
		w, ok := caught[x]
		switch {
		case refusals[x] == 0:
			t.Errorf("%s: never refused anything", v.name(x))
			continue
		case !ok && x.place < 0 && v.tells(list, g, x.never):
			t.Logf("%8d refusals: %s; it alone tells that a hook-up as found is wrong", refusals[x], v.name(x))
			continue
		case !ok:
			t.Errorf("%s: refused %d moves, but taking it out breaks no invariant at once", v.name(x), refusals[x])
			continue
		}
		t.Logf("%8d refusals: %s; without it broken: %s", refusals[x], v.name(x), named(list, w.broken))
		v.mutate(t, x, w)
	}
	for k, inv := range list {
		if bites>>k&1 == 0 && !inv.structural {
			t.Errorf("%s: no guard is there for it", inv.name)
		}
	}
}

// tells says whether there is a hook-up, one position away from a reachable one,
// that breaks an invariant and of which a row alone says that it may not be.
func (v vehicle) tells(list []invariant, g *graph, row int) bool {
	for _, from := range g.states {
		for i, p := range v.Places {
			for k := range p.Positions {
				to := from.With(i, k)
				if !v.tables.rows[row].holds(to) || broken(list, to, -1, to) == 0 {
					continue
				}
				if _, rows := v.Allowed(to); len(rows) == 1 {
					return true
				}
			}
		}
	}
	return false
}

// mutate takes the guard out and checks that the witness's move is then legal.
func (v vehicle) mutate(t *testing.T, x refuser, w witness) {
	t.Helper()
	mutant, err := v.without(x)
	if err != nil {
		t.Fatalf("%s: %v", v.name(x), err)
	}
	for _, r := range []*Rig{v.Rig, mutant} {
		for _, o := range r.Moves(w.from) {
			if o.Place == w.place && o.Move.To == w.to && (len(o.Refused) == 0) != (r == mutant) {
				t.Errorf("%s: refused %v, in the mutant: %v", v.name(x), o.Refused, r == mutant)
			}
		}
	}
}

// TestStructuralInvariantsBite: some rules are kept because the data has no such
// move, or two steps away from a guard. Each must be seen broken once the move
// is there or the guard is gone.
func TestStructuralInvariantsBite(t *testing.T) { each(t, structuralInvariantsBite) }

func structuralInvariantsBite(t *testing.T, v vehicle) {
	list := invariants(v)
	adds := func(place string, to int) *Rig {
		places := slices.Clone(v.Places)
		i := v.place[place]
		places[i].Moves = append(slices.Clone(places[i].Moves), Move{From: 0, To: to, Minutes: 1, Say: "mutant"})
		r, err := New(places, v.Never, v.Rest)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	mutants := map[string]*Rig{
		"R9 load tester clipped at zero load":    adds("load-bank", 2),
		"R1 cranked only with the coil lead off": adds("engine", 1),
	}
	if v.has("half-tester") {
		mutants["R9 12 V tester clipped at zero load"] = adds("half-tester", 2)
	}
	if v.has("field-jumper") {
		mutants["R14 no press without fitting first"] = adds("field-jumper", 2)
		mutants["R19 start with the field open"] = v.lax(t, "R17", "R43")
	}
	for k, inv := range list {
		if !inv.structural {
			continue
		}
		if mutants[inv.name] == nil {
			t.Errorf("%s: no mutant that breaks it", inv.name)
			continue
		}
		seen := false
		explore(mutants[inv.name], func(from State, i int, _ *move, to State, refused []refuser) bool {
			seen = len(refused) == 0 && broken(list[k:k+1], from, i, to) != 0
			return seen
		})
		if !seen {
			t.Errorf("%s: its mutant does not break it", inv.name)
		}
	}
}

// lax is the rig without what stands for some rules.
func (v vehicle) lax(t *testing.T, rules ...string) *Rig {
	t.Helper()
	r := v.Rig
	for k := 0; k < len(r.every()); k++ {
		x := r.every()[k]
		var rule string
		if x.place < 0 {
			rule = r.Never[x.never].Rule
		} else {
			rule = r.Places[x.place].Moves[x.move].Needs[x.never].Rule
		}
		if !slices.Contains(rules, rule) {
			continue
		}
		var err error
		if r, err = r.without(x); err != nil {
			t.Fatal(err)
		}
		k = -1 // the list is another
	}
	return r
}

// TestLeaveItFromEverywhere is liveness: from every reachable state there is a
// legal way to where the vehicle may be left. It walks backwards over all edges.
func TestLeaveItFromEverywhere(t *testing.T) { each(t, leaveItFromEverywhere) }

func leaveItFromEverywhere(t *testing.T, v vehicle) {
	g := v.graph()
	back := make([][]int32, len(g.states))
	for k := range g.states {
		for _, to := range g.to[g.start[k]:g.start[k+1]] {
			back[to] = append(back[to], int32(k))
		}
	}
	park := v.ParkTarget()
	ends, live := []int32{}, make([]bool, len(g.states))
	for k, s := range g.states {
		if v.Meets(s, park) {
			ends, live[k] = append(ends, int32(k)), true
		}
	}
	parked := len(ends)
	for k := 0; k < len(ends); k++ {
		for _, from := range back[ends[k]] {
			if !live[from] {
				live[from] = true
				ends = append(ends, from)
			}
		}
	}
	for k, ok := range live {
		if !ok {
			t.Errorf("no way to leave it from: %s", v.say(g.states[k]))
		}
	}
	t.Logf("%d states, %d of them to leave it in, %d lead there", len(g.states), parked, len(ends))
}

// TestWrongOrder draws states from the whole product of positions, nearly all of
// them against some rule, and asks for the way back (R40): field let go, engine
// off, key off come first; nothing is broken anew on the way; it ends parked.
func TestWrongOrder(t *testing.T) { each(t, wrongOrder) }

func wrongOrder(t *testing.T, v vehicle) {
	stopped, keyOff, pressed := v.stopped(), v.in("ignition", "off"), v.in("field-jumper", "pressed")
	fed := v.in("bypass", "field-feed")
	rng := rand.New(rand.NewPCG(40, 1))
	const draws = 2000
	against := 0
	for range draws {
		var s State
		for i, p := range v.Places {
			s = s.With(i, rng.IntN(len(p.Positions)))
		}
		ok, _ := v.Allowed(s)
		plan, err := v.Park(s)
		if err != nil {
			t.Fatalf("%s: %v", v.say(s), err)
		}
		at, calm := s, false
		for _, step := range plan.Steps {
			calm = calm || stopped(at) && keyOff(at) && !pressed(at)
			role := v.Places[step.Place].Role
			hurry := role == "engine" || role == "ignition" || role == "field-jumper" || role == "bypass" && !fed(step.To)
			if stops := role == "engine" && !stopped(at) && stopped(step.To); stops && fed(at) {
				t.Fatalf("from %s: the engine is stopped while the supply lead keeps it running", v.say(s))
			}
			if !ok && !calm && !hurry {
				t.Fatalf("from %s: %q before field, engine and key are off", v.say(s), step.Move.Say)
			}
			v.addsNothing(t, step)
			at = step.To
		}
		if at != plan.Final || !v.Meets(at, v.ParkTarget()) {
			t.Fatalf("from %s: ends at %s", v.say(s), v.say(at))
		}
		if !ok {
			against++
		}
	}
	if against < draws/2 {
		t.Errorf("only %d of %d drawn states were against a rule", against, draws)
	}
}

// addsNothing checks that a step breaks no rule that was not broken already.
func (v vehicle) addsNothing(t *testing.T, step Step) {
	t.Helper()
	_, before := v.Allowed(step.From)
	_, after := v.Allowed(step.To)
	for _, row := range after {
		if !slices.ContainsFunc(before, func(n Never) bool { return n.Why == row.Why }) {
			t.Fatalf("from %s: %q breaks %s", v.say(step.From), step.Move.Say, row.Rule)
		}
	}
}

// TestLinesCarryTheirCautions: what a hook-up cannot hold stands as a caution on
// the line of the move (R2 R3 R13 R16 R19 R24 R41 and others).
func TestLinesCarryTheirCautions(t *testing.T) { each(t, linesCarryTheirCautions) }

func linesCarryTheirCautions(t *testing.T, v vehicle) {
	side := func(earth, supply string) string { // by where the regulator is
		if v.fed {
			return supply
		}
		return earth
	}
	for _, p := range v.Places {
		for _, m := range p.Moves {
			for _, c := range m.Cautions {
				if !v.cautions[c] {
					t.Errorf("%s: caution %s is not in the file", m.Say, c)
				}
			}
		}
	}
	for _, c := range []struct {
		place, from, to string // "" = any
		cautions        []string
		source          string
	}{
		{"earth-cable", "", "", []string{"c14", "c08", "c13"}, "R41 rings and eyes, R7"},
		{"watch-meter", "", "", []string{"c14", "c08"}, "R41"},
		{"load-bank", "absent", "", []string{"c14", "c08", "c23", "c24", "c44"}, "R41 R10 R11 R27"},
		{"load-bank", "", "drawing", []string{"c23", "c24"}, "R11"},
		{"bypass", "", "", []string{"c14", "c08"}, "R41"},
		{"bypass", "none", "", []string{"c46"}, "R29 fuse, section"},
		{"bypass", "none", "field-feed", []string{"c45", "c34"}, "R24 coil live"},
		{"field-jumper", "absent", "", []string{"c35", side("c18", "c61"), side("c35", "c62")}, "R12 R13"},
		{"field-leads", "on", "", []string{side("c18", "c61")}, "a fed field shorts the regulator on earth"},
		{"field-jumper", "", "pressed", []string{"c36", "c37"}, "R16 R17, two people"},
		{"engine", "ready", "crank", []string{"c25", "c26", "c47"}, "R1 R19"},
		{"engine", "off", "idle", []string{"c25", "c26", "c47"}, "R1 R19"},
		{"bypass", "field-feed", "field-feed-out", []string{"c45"}, "R24 the key does not stop the engine"},
		{"engine", "off", "idle", []string{"c27", "c50"}, "R2 R5"},
		{"ignition", "", "on", []string{"c34"}, "R24"},
		{"belt", "", "", []string{"c25", "c28"}, "R3"},
		{"unit", "vehicle", "bench", []string{"c48"}, "R32 cool"},
		{"output-lead", "", "ammeter", []string{"c16", "c49", "c30"}, "R4 R20"},
	} {
		if v.goesWithout(c.place, c.from, c.to) {
			continue
		}
		p := v.Places[v.place[c.place]]
		found := false
		for _, m := range p.Moves {
			if c.from != "" && p.Positions[m.From].ID != c.from || c.to != "" && p.Positions[m.To].ID != c.to {
				continue
			}
			found = true
			for _, want := range c.cautions {
				if !slices.Contains(m.Cautions, want) {
					t.Errorf("%s: %q lacks caution %s (%s)", c.place, m.Say, want, c.source)
				}
			}
		}
		if !found {
			t.Errorf("no move of %s from %q to %q", c.place, c.from, c.to)
		}
	}
}

// goesWithout says whether a vehicle has no such move for a reason: no such place
// or position, no field lead among the leads at its alternator, no points coil to
// overheat.
func (v vehicle) goesWithout(place, from, to string) bool {
	for _, position := range []string{from, to} {
		if position != "" && !v.has(place+"/"+position) {
			return true
		}
	}
	return !v.has(place) || place == "field-leads" && !v.has("field-jumper") || place == "ignition" && !v.coil
}

// TestOnlySeriesAmmeters is R20 and R12 in the data: an ammeter position adds
// resistance to a joint that is there anyway and closes nothing, and the field
// jumper does nothing but close its own gap. That gap joins a field blade to an
// earth where the regulator is on the earth side, and to the battery's positive
// post where it feeds: there an earthed field terminal shorts it.
func TestOnlySeriesAmmeters(t *testing.T) { each(t, onlySeriesAmmeters) }

func onlySeriesAmmeters(t *testing.T, v vehicle) {
	for _, p := range v.Places {
		for _, pos := range p.Positions {
			for _, s := range pos.Sets {
				if pos.ID == "ammeter" && (s.Add <= 0 || !slices.Contains([]string{"j-stud", "j-f1", "j-f2", "j-dplus"}, s.Element)) {
					t.Errorf("%s ammeter sets %+v: must add to a joint in series", p.ID, s)
				}
				if p.Role != "field-jumper" {
					continue
				}
				if s.Element != "g-jumper" {
					t.Errorf("field jumper sets %s", s.Element)
				}
				if ends := v.gaps[s.Element]; v.fed != slices.Contains(ends[:], v.positive) || v.fed == slices.Contains(ends[:], "block") {
					t.Errorf("field jumper joins %v, regulator on the supply side: %v", ends, v.fed)
				}
			}
		}
	}
}
