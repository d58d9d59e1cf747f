package rig

import "math"

// Refusal is why a move may not be made now.
type Refusal struct{ Rule, Why string }

// Step is one move of one place, from one state to the next.
type Step struct {
	Place    int
	Move     *Move
	From, To State
}

// Option is a move that the present position of its place offers, with the
// reasons why it may not be made. No reason means it is legal.
type Option struct {
	Step
	Refused []Refusal
}

// Allowed reports whether a state may be, and the rules that it breaks.
func (r *Rig) Allowed(s State) (bool, []Never) {
	var broken []Never
	for k, row := range r.compiled().rows {
		if row.holds(s) {
			broken = append(broken, r.Never[k])
		}
	}
	return len(broken) == 0, broken
}

// Moves lists every single move that the state offers, legal or not, in the
// order of places. A state that already breaks a rule (somebody got there
// otherwise) is not refused a move for that same rule; see Park.
func (r *Rig) Moves(s State) []Option {
	t := r.compiled()
	var out []Option
	for i := range r.Places {
		for k := range t.moves[i] {
			m := &t.moves[i][k]
			if m.from != s.At(i) {
				continue
			}
			o := Option{Step: Step{Place: i, Move: m.move, From: s, To: s.With(i, m.to)}}
			t.refusals(s, i, m, func(needs bool, k int) {
				if needs {
					o.Refused = append(o.Refused, Refusal{m.move.Needs[k].Rule, m.move.Needs[k].Why})
				} else {
					o.Refused = append(o.Refused, Refusal{r.Never[k].Rule, r.Never[k].Why})
				}
			})
			out = append(out, o)
		}
	}
	return out
}

// cond is a Cond as a bit mask of positions.
type cond struct {
	place int
	mask  uint16
}

func (c cond) holds(s State) bool { return c.mask>>s.At(c.place)&1 == 1 }

type row []cond

func (w row) holds(s State) bool {
	for _, c := range w {
		if !c.holds(s) {
			return false
		}
	}
	return true
}

// breaks reports whether a move newly brings about what the row forbids. From a
// state that is allowed this is the same as forbidding the new state.
func (w row) breaks(from, to State) bool { return w.holds(to) && !w.holds(from) }

// refusals tells each guard (needs, its index in the move) and each forbidden
// state (its row) that refuses a move of place i.
func (t *tables) refusals(at State, i int, m *move, tell func(needs bool, k int)) {
	for g, need := range m.needs {
		if !need.holds(at) {
			tell(true, g)
		}
	}
	to := at.With(i, m.to)
	for _, k := range t.rowsOf[i] {
		if t.rows[k].breaks(at, to) {
			tell(false, k)
		}
	}
}

type move struct {
	from, to int
	cost     int32 // attended [min/1000], so that sums are exact and ties are ties
	needs    []cond
	move     *Move
}

const far = math.MaxInt32 / 4

// tables are the rig's data in the form that the search reads. Never changed
// after New.
type tables struct {
	moves  [MaxPlaces][]move
	rows   []row
	rowsOf [MaxPlaces][]int // rows that name the place
	inert  [MaxPlaces]uint16
	rest   State
	// least[i][a][b] is the cheapest way of place i from a to b when nothing is
	// in the way [min/1000], far if there is none.
	least [MaxPlaces][MaxPositions][MaxPositions]int32
}

// compiled serves a Rig that was written down instead of made by New: right,
// but slow.
func (r *Rig) compiled() *tables {
	if r.tables != nil {
		return r.tables
	}
	return compile(r)
}

func compile(r *Rig) *tables {
	t := &tables{rest: r.Rest}
	for i := range r.Places {
		p := &r.Places[i]
		for k := range p.Moves {
			m := &p.Moves[k]
			c := move{from: m.From, to: m.To, cost: thousandths(m.Minutes), move: m}
			for _, need := range m.Needs {
				c.needs = append(c.needs, maskOf(need))
			}
			t.moves[i] = append(t.moves[i], c)
		}
		for k, pos := range p.Positions {
			if pos.Inert || k == r.Rest.At(i) {
				t.inert[i] |= 1 << k
			}
		}
		t.ways(i, len(p.Positions))
	}
	for k, n := range r.Never {
		var w row
		for _, when := range n.When {
			w = append(w, maskOf(when))
			t.rowsOf[when.Place] = append(t.rowsOf[when.Place], k)
		}
		t.rows = append(t.rows, w)
	}
	return t
}

func thousandths(minutes float64) int32 { return int32(math.Round(minutes * 1000)) }

func maskOf(c Cond) cond {
	var mask uint16
	for _, p := range c.Positions {
		mask |= 1 << p
	}
	return cond{c.Place, mask}
}

// ways is Floyd's all-pairs shortest path inside one place.
func (t *tables) ways(i, n int) {
	d := &t.least[i]
	for a := range d {
		for b := range d[a] {
			if a != b {
				d[a][b] = far
			}
		}
	}
	for _, m := range t.moves[i] {
		d[m.from][m.to] = min(d[m.from][m.to], m.cost)
	}
	for k := range n {
		for a := range n {
			for b := range n {
				d[a][b] = min(d[a][b], d[a][k]+d[k][b])
			}
		}
	}
}
