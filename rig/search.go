package rig

import (
	"fmt"
	"slices"
	"strings"
)

// Target is where places should stand. Named places must stand in one of the
// demanded positions, the others in the resting position or any inert one.
type Target struct {
	Positions [MaxPlaces]uint16 // bit p: position p will do; 0 = not named
}

// Target builds a target from ids: place to position. All problems are joined
// in one error.
func (r *Rig) Target(positions map[string]string) (Target, error) {
	var want Target
	var c checker
	for id, position := range positions {
		i := slices.IndexFunc(r.Places, func(p Place) bool { return p.ID == id })
		if i < 0 {
			c.add("no place %q; the places are %s", id, names(r.Places, func(p Place) string { return p.ID }))
			continue
		}
		k := slices.IndexFunc(r.Places[i].Positions, func(p Position) bool { return p.ID == position })
		if k < 0 {
			c.add("place %s has no position %q; it has %s", id, position, names(r.Places[i].Positions, func(p Position) string { return p.ID }))
			continue
		}
		want.Positions[i] = 1 << k
	}
	return want, c.err()
}

func names[T any](list []T, id func(T) string) string {
	var out []string
	for _, x := range list {
		out = append(out, id(x))
	}
	return strings.Join(out, ", ")
}

// Meets reports whether a state satisfies the target.
func (r *Rig) Meets(s State, want Target) bool {
	goal := r.goal(want)
	for i := range r.Places {
		if goal[i]>>s.At(i)&1 == 0 {
			return false
		}
	}
	return true
}

func (r *Rig) goal(want Target) [MaxPlaces]uint16 {
	goal := r.compiled().inert
	for i, m := range want.Positions {
		if m != 0 {
			goal[i] = m
		}
	}
	return goal
}

// Plan is the way from one state to another, every state on it allowed.
type Plan struct {
	Steps   []Step
	Minutes float64 // attended
	Elapsed float64 // clock minutes, at least the attended ones
	Final   State
	Work    int // states looked at
}

// Path finds the cheapest way, in attended minutes, from a state to one that
// satisfies the target. Equal ways are settled the same every time; moves whose
// order is free stand in the order of places, those back to rest before and the
// other way round. The overhead of a job's first change of the hook-up is not in
// it. Costs are counted in thousandths of a minute.
//
// The search never looks at the whole graph. It plans with the places that must
// move and lets the others float; where the plan then meets a refusal, the
// places of that refusal join, until the plan can be carried out. A plan that
// ignored some rules cost no more than any true one, so the first that can be
// carried out is the cheapest (counterexample-guided abstraction, e.g. Seipp and
// Helmert, JAIR 62, 2018; basis memory).
func (r *Rig) Path(from State, want Target) (Plan, error) {
	if ok, broken := r.Allowed(from); !ok {
		return Plan{}, fmt.Errorf("the hook-up now is against %s (%s); go the way that Park gives first", broken[0].Rule, broken[0].Why)
	}
	return r.path(from, r.goal(want))
}

func (r *Rig) path(from State, goal [MaxPlaces]uint16) (Plan, error) {
	s := search{tables: r.compiled(), from: from, goal: goal}
	for i := range r.Places {
		if goal[i]>>from.At(i)&1 == 0 {
			s.moving |= 1 << i
		}
	}
	for {
		hops, ok := s.run()
		if !ok {
			return Plan{}, r.inTheWay(&s)
		}
		more := s.blockers(hops)
		if more == 0 {
			return r.plan(&s, s.tidy(hops)), nil
		}
		s.moving |= more
	}
}

// blockers carries a plan out with every place counted and returns the floating
// places of the first refusal, 0 if there is none.
func (s *search) blockers(hops []hop) uint16 {
	at := s.from
	for _, h := range hops {
		to := at.With(h.place, h.move.to)
		var who uint16
		for _, need := range h.move.needs {
			if !need.holds(at) {
				who |= 1 << need.place
			}
		}
		for _, k := range s.rowsOf[h.place] {
			if s.rows[k].breaks(at, to) {
				for _, c := range s.rows[k] {
					who |= 1 << c.place
				}
			}
		}
		if who &^= s.moving; who != 0 {
			return who
		}
		at = to
	}
	return 0
}

// legal reports whether a move may be made, every place counted.
func (t *tables) legal(at State, h hop) bool {
	for _, need := range h.move.needs {
		if !need.holds(at) {
			return false
		}
	}
	to := at.With(h.place, h.move.to)
	for _, k := range t.rowsOf[h.place] {
		if t.rows[k].breaks(at, to) {
			return false
		}
	}
	return at.At(h.place) == h.move.from
}

// tidy orders the moves as a person would where the rules leave it open: at each
// point the first by rank that may come now and leaves the others possible. The
// same moves, so the same cost and the same end.
func (s *search) tidy(hops []hop) []hop {
	at := s.from
	for k := range hops {
		best := k
		for c := k + 1; c < len(hops); c++ {
			if s.rank(hops[c]) < s.rank(hops[best]) && s.mayLead(at, hops[k:], c-k) {
				best = c
			}
		}
		lead := hops[best]
		copy(hops[k+1:best+1], hops[k:best])
		hops[k] = lead
		at = at.With(lead.place, lead.move.to)
	}
	return hops
}

// mayLead reports whether hop c may be made first and the others after it.
func (s *search) mayLead(at State, hops []hop, c int) bool {
	if !s.legal(at, hops[c]) {
		return false
	}
	at = at.With(hops[c].place, hops[c].move.to)
	for k, h := range hops {
		if k == c {
			continue
		}
		if !s.legal(at, h) {
			return false
		}
		at = at.With(h.place, h.move.to)
	}
	return true
}

// rank is the order in which a person works: first what leads back to rest, the
// last place first, then what leads away from it.
func (t *tables) rank(h hop) int {
	rest := t.rest.At(h.place)
	if t.least[h.place][h.move.to][rest] < t.least[h.place][h.move.from][rest] {
		return -1 - h.place
	}
	return h.place
}

func (r *Rig) plan(s *search, hops []hop) Plan {
	p := Plan{Final: s.from, Work: s.work}
	var attended, elapsed int32 // summed whole, so that no rounding shows
	for _, h := range hops {
		to := p.Final.With(h.place, h.move.to)
		p.Steps = append(p.Steps, Step{Place: h.place, Move: h.move.move, From: p.Final, To: to})
		attended += h.move.cost
		elapsed += max(h.move.cost, thousandths(h.move.move.Elapsed))
		p.Final = to
	}
	p.Minutes, p.Elapsed = float64(attended)/1000, float64(elapsed)/1000
	return p
}

// inTheWay names the rules that keep the target out of reach: rows that the
// demanded positions break among themselves, else what refused the moves into
// them.
func (r *Rig) inTheWay(s *search) error {
	var why []string
	say := func(rule, words string) {
		if line := rule + " (" + words + ")"; !slices.Contains(why, line) && len(why) < 3 {
			why = append(why, line)
		}
	}
	for k, w := range s.rows {
		leavesRoom := func(c cond) bool { return s.goal[c.place]&^c.mask != 0 }
		if !slices.ContainsFunc(w, leavesRoom) {
			say(r.Never[k].Rule, r.Never[k].Why)
		}
	}
	if len(why) == 0 {
		s.refused, s.never = say, r.Never
		s.run()
	}
	if len(why) == 0 {
		why = []string{"no move of " + names(r.Places, func(p Place) string { return p.ID }) + " leads there"}
	}
	return fmt.Errorf("that hook-up cannot be reached: %s; ask for other positions", strings.Join(why, "; "))
}
