package rig

import "slices"

// Roles that the way back speaks of.
const (
	roleEngine      = "engine"
	roleIgnition    = "ignition"
	roleFieldJumper = "field-jumper"
	roleBypass      = "bypass" // a lead that may feed the ignition
)

// ParkTarget is the hook-up in which a vehicle may be left: engine stopped,
// ignition off, every lead of ours off, every cable and plug back on. Brake and
// exhaust may stay as they are.
func (r *Rig) ParkTarget() Target {
	var want Target
	for i := range r.Places {
		if p := &r.Places[i]; p.Role != "brake" && p.Role != "exhaust" {
			want.Positions[i] = 1 << r.Rest.At(i)
		}
	}
	return want
}

// Park finds the way to where the vehicle may be left, from any state, also one
// that no rule would have allowed (a wrong order). From such a state it first
// lets go of the field switch, takes away what keeps the engine running, stops it
// and switches the ignition off, whatever a guard says; after that no move breaks
// a rule that was not broken already.
func (r *Rig) Park(from State) (Plan, error) {
	goal := r.goal(r.ParkTarget())
	if ok, _ := r.Allowed(from); ok {
		return r.path(from, goal)
	}
	first := r.makeSafe(from)
	rest, err := r.path(first.Final, goal)
	if err != nil {
		return Plan{}, err
	}
	return Plan{
		Steps:   append(first.Steps, rest.Steps...),
		Minutes: first.Minutes + rest.Minutes,
		Elapsed: first.Elapsed + rest.Elapsed,
		Final:   rest.Final,
		Work:    rest.Work,
	}, nil
}

// makeSafe is done with one hand and at once: field off, engine off, key off. A
// load may stay on: taking it off first would let the volts jump.
func (r *Rig) makeSafe(from State) Plan {
	s := search{tables: r.compiled(), from: from}
	var hops []hop
	at := from
	for _, calm := range []struct {
		role string
		at   func(place, position int) bool
	}{
		{roleFieldJumper, func(i, k int) bool { return len(r.Places[i].Positions[k].Sets) == 0 }},
		{roleBypass, r.letsStop},
		{roleEngine, func(i, k int) bool { return r.Places[i].Positions[k].Engine == 0 }},
		{roleIgnition, func(i, k int) bool { return k == r.Rest.At(i) }},
	} {
		for i := range r.Places {
			if r.Places[i].Role != calm.role {
				continue
			}
			done := func(k int) bool { return calm.at(i, k) }
			for _, m := range s.down(i, at.At(i), len(r.Places[i].Positions), done) {
				hops = append(hops, hop{i, m})
				at = at.With(i, m.to)
			}
		}
	}
	return r.plan(&s, hops)
}

// letsStop says whether the engine can be stopped while a place stands in a
// position: no guard of stopping it speaks against that.
func (r *Rig) letsStop(place, position int) bool {
	for _, p := range r.Places {
		for _, m := range p.Moves {
			if p.Role != roleEngine || p.Positions[m.To].Engine > 0 {
				continue
			}
			for _, need := range m.Needs {
				if need.Place == place && !slices.Contains(need.Positions, position) {
					return false
				}
			}
		}
	}
	return true
}

// down is the cheapest way of one place to a position that will do.
func (t *tables) down(i, from, n int, done func(int) bool) []*move {
	goal, cost := from, int32(far)
	for k := range n {
		if done(k) && t.least[i][from][k] < cost {
			goal, cost = k, t.least[i][from][k]
		}
	}
	var out []*move
	for from != goal {
		k := slices.IndexFunc(t.moves[i], func(m move) bool {
			return m.from == from && m.cost+t.least[i][m.to][goal] == t.least[i][from][goal]
		})
		out = append(out, &t.moves[i][k])
		from = t.moves[i][k].to
	}
	return out
}
