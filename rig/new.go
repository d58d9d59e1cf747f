package rig

import (
	"errors"
	"fmt"
	"math"
)

// New checks a description and returns its rig ready for use. The error joins
// every problem found. rest is the state in which the vehicle rolls in.
func New(places []Place, never []Never, rest State) (*Rig, error) {
	var c checker
	if n := len(places); n == 0 || n > MaxPlaces {
		c.add("rig has %d places; write 1 to %d", n, MaxPlaces)
		return nil, c.err()
	}
	seen := map[string]bool{}
	for i := range places {
		c.place(places, i)
		if seen[places[i].ID] {
			c.add("place %s is given twice; give each place its own id", places[i].ID)
		}
		seen[places[i].ID] = true
	}
	for i := range never {
		c.never(places, i, never[i])
	}
	for i := range places {
		if rest.At(i) >= len(places[i].Positions) {
			c.add("place %s rests in position %d; it has only %d", places[i].ID, rest.At(i), len(places[i].Positions))
		}
	}
	if len(places) < MaxPlaces && rest>>(4*len(places)) != 0 {
		c.add("the resting state names more than %d places; leave the rest at 0", len(places))
	}
	if err := c.err(); err != nil {
		return nil, err
	}
	r := &Rig{Places: places, Never: never, Rest: rest}
	r.tables = compile(r)
	if ok, broken := r.Allowed(rest); !ok {
		return nil, fmt.Errorf("the vehicle rolls in against %s (%s); change the resting positions or the rule", broken[0].Rule, broken[0].Why)
	}
	return r, nil
}

type checker struct{ problems []error }

func (c *checker) add(format string, args ...any) {
	c.problems = append(c.problems, fmt.Errorf(format, args...))
}

func (c *checker) err() error { return errors.Join(c.problems...) }

func (c *checker) place(places []Place, i int) {
	p := &places[i]
	if p.ID == "" {
		c.add("place %d has no id; give it one", i+1)
	}
	if n := len(p.Positions); n == 0 || n > MaxPositions {
		c.add("place %s has %d positions; write 1 to %d", p.ID, n, MaxPositions)
		return
	}
	seen := map[string]bool{}
	for _, pos := range p.Positions {
		if pos.ID == "" || seen[pos.ID] {
			c.add("place %s: position %q is empty or given twice; give each position its own id", p.ID, pos.ID)
		}
		seen[pos.ID] = true
		if !finite(pos.Engine) || pos.Engine < 0 {
			c.add("place %s, position %s: engine speed %v; write 0 or more", p.ID, pos.ID, pos.Engine)
		}
		c.sets(p.ID+", position "+pos.ID, pos.Sets)
	}
	twice := map[[2]int]bool{}
	for k := range p.Moves {
		m := &p.Moves[k]
		if twice[[2]int{m.From, m.To}] {
			c.add("place %s: two moves from %d to %d; keep one", p.ID, m.From, m.To)
		}
		twice[[2]int{m.From, m.To}] = true
		c.move(places, i, m)
	}
}

func (c *checker) sets(where string, sets []Set) {
	for _, s := range sets {
		given := 0
		for _, on := range []bool{s.Open, s.Closed, s.Value != 0, s.Add != 0} {
			if on {
				given++
			}
		}
		if s.Element == "" || given != 1 || !finite(s.Value) || !finite(s.Add) {
			c.add("place %s: setting of %q; name an element and give one of open, closed, value, add", where, s.Element)
		}
	}
}

func (c *checker) move(places []Place, i int, m *Move) {
	p := &places[i]
	n := len(p.Positions)
	if m.From < 0 || m.From >= n || m.To < 0 || m.To >= n || m.From == m.To {
		c.add("place %s: move from %d to %d; write two different positions of its %d", p.ID, m.From, m.To, n)
		return
	}
	where := fmt.Sprintf("place %s, move %s to %s", p.ID, p.Positions[m.From].ID, p.Positions[m.To].ID)
	// A thousandth of a minute is the grain of the search.
	if !finite(m.Minutes) || m.Minutes < 0.001 || m.Minutes > 1e5 {
		c.add("%s: takes %v minutes; write 0.001 to 100000", where, m.Minutes)
	}
	if !finite(m.Elapsed) || m.Elapsed > 1e5 || m.Elapsed != 0 && m.Elapsed < m.Minutes {
		c.add("%s: elapsed %v minutes, attended %v; write at least the attended ones, or leave it out", where, m.Elapsed, m.Minutes)
	}
	if m.Say == "" {
		c.add("%s: has no line for the checklist; write what to do", where)
	}
	seen := map[int]bool{i: true}
	for _, need := range m.Needs {
		if need.Rule == "" || need.Why == "" {
			c.add("%s: a guard without rule or words; write both", where)
		}
		c.cond(places, where, need, seen)
	}
}

func (c *checker) never(places []Place, k int, n Never) {
	where := fmt.Sprintf("forbidden state %d (%s)", k+1, n.Rule)
	if n.Rule == "" || n.Why == "" {
		c.add("%s: has no rule or no words; write both", where)
	}
	if len(n.When) == 0 {
		c.add("%s: forbids everything; name at least one place", where)
	}
	seen := map[int]bool{}
	for _, when := range n.When {
		c.cond(places, where, when, seen)
	}
}

// cond refuses a condition that could never bite: one on an unknown place, on
// the moving place itself, with no position, or with all of them.
func (c *checker) cond(places []Place, where string, cond Cond, seen map[int]bool) {
	if cond.Place < 0 || cond.Place >= len(places) {
		c.add("%s: condition on place number %d; there are %d", where, cond.Place, len(places))
		return
	}
	p := &places[cond.Place]
	if seen[cond.Place] {
		c.add("%s: condition on %s stands twice or on the moving place itself; keep one", where, p.ID)
	}
	seen[cond.Place] = true
	var mask uint16
	for _, pos := range cond.Positions {
		if pos < 0 || pos >= len(p.Positions) {
			c.add("%s: condition on %s names position %d; it has %d", where, p.ID, pos, len(p.Positions))
			continue
		}
		mask |= 1 << pos
	}
	if mask == 0 || mask == 1<<len(p.Positions)-1 {
		c.add("%s: condition on %s names none or all of its positions; name those that matter", where, p.ID)
	}
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
