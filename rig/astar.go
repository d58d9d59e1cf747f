package rig

// search looks for the cheapest way while the places outside moving float: they
// stay where they are and no rule that names them counts.
type search struct {
	*tables
	from   State
	goal   [MaxPlaces]uint16
	moving uint16 // bit i: place i may move and its rules count
	work   int

	refused func(rule, why string) // if not nil, told what refuses the moves into the goal
	never   []Never

	seen map[State]visit
	heap []entry
	seq  int32
}

// hop is a move of a place.
type hop struct {
	place int
	move  *move
}

type visit struct {
	cost int32 // from the start [min/1000]
	done bool
	last hop
}

type entry struct {
	guess, cost, seq int32 // cost of the whole way at least, of the way so far, age
	state            State
}

// run is A* (Hart, Nilsson and Raphael 1968). The guess at what is left is the
// sum over places of their own cheapest way to the goal with nothing in the way;
// each move moves one place, so the guess is never too high and never falls
// faster than a move costs.
func (s *search) run() ([]hop, bool) {
	s.seen, s.heap, s.seq = map[State]visit{s.from: {}}, s.heap[:0], 0
	s.push(s.from, 0)
	for len(s.heap) > 0 {
		e := s.pop()
		v := s.seen[e.state]
		if v.done || e.cost > v.cost {
			continue
		}
		if e.guess == e.cost { // nothing left to do
			return s.way(e.state), true
		}
		v.done = true
		s.seen[e.state] = v
		s.work++
		s.expand(e)
	}
	return nil, false
}

func (s *search) expand(e entry) {
	for i := range s.moves {
		if s.moving>>i&1 == 0 {
			continue
		}
		for k := range s.moves[i] {
			h := hop{i, &s.moves[i][k]}
			if h.move.from != e.state.At(i) || !s.open(e.state, h) {
				continue
			}
			to, cost := e.state.With(i, h.move.to), e.cost+h.move.cost
			if old, ok := s.seen[to]; ok && old.cost <= cost {
				continue
			}
			s.seen[to] = visit{cost: cost, last: h}
			s.push(to, cost)
		}
	}
}

// open reports whether the rules that count let a move through.
func (s *search) open(at State, h hop) bool {
	ok := true
	tell := s.refused != nil && s.goal[h.place]>>h.move.to&1 == 1
	for g, need := range h.move.needs {
		if s.moving>>need.place&1 == 1 && !need.holds(at) {
			if ok = false; tell {
				s.refused(h.move.move.Needs[g].Rule, h.move.move.Needs[g].Why)
			}
		}
	}
	to := at.With(h.place, h.move.to)
	for _, k := range s.rowsOf[h.place] {
		if s.counts(s.rows[k]) && s.rows[k].breaks(at, to) {
			if ok = false; tell {
				s.refused(s.never[k].Rule, s.never[k].Why)
			}
		}
	}
	return ok
}

func (s *search) counts(w row) bool {
	for _, c := range w {
		if s.moving>>c.place&1 == 0 {
			return false
		}
	}
	return true
}

// guess is the least that is left; far or more if a place cannot get there.
func (s *search) guess(at State) int32 {
	var sum int32
	for i := range s.goal {
		if s.moving>>i&1 == 0 || s.goal[i]>>at.At(i)&1 == 1 {
			continue
		}
		best := int32(far)
		for p := range MaxPositions {
			if s.goal[i]>>p&1 == 1 {
				best = min(best, s.least[i][at.At(i)][p])
			}
		}
		if best >= far {
			return far
		}
		sum += best
	}
	return sum
}

func (s *search) way(end State) []hop {
	var hops []hop
	for at := end; at != s.from; {
		h := s.seen[at].last
		hops = append(hops, h)
		at = at.With(h.place, h.move.from)
	}
	for a, b := 0, len(hops)-1; a < b; a, b = a+1, b-1 {
		hops[a], hops[b] = hops[b], hops[a]
	}
	return hops
}

// before orders the heap: the likely cheaper first, then the further along,
// then the older, so that the same question has the same answer.
func (a entry) before(b entry) bool {
	if a.guess != b.guess {
		return a.guess < b.guess
	}
	if a.cost != b.cost {
		return a.cost > b.cost
	}
	return a.seq < b.seq
}

func (s *search) push(at State, cost int32) {
	g := s.guess(at)
	if g >= far {
		return
	}
	s.seq++
	s.heap = append(s.heap, entry{cost + g, cost, s.seq, at})
	for i := len(s.heap) - 1; i > 0; {
		up := (i - 1) / 2
		if !s.heap[i].before(s.heap[up]) {
			break
		}
		s.heap[i], s.heap[up] = s.heap[up], s.heap[i]
		i = up
	}
}

func (s *search) pop() entry {
	top := s.heap[0]
	last := len(s.heap) - 1
	s.heap[0] = s.heap[last]
	s.heap = s.heap[:last]
	for i := 0; ; {
		next := i
		for c := 2*i + 1; c <= 2*i+2 && c < last; c++ {
			if s.heap[c].before(s.heap[next]) {
				next = c
			}
		}
		if next == i {
			return top
		}
		s.heap[i], s.heap[next] = s.heap[next], s.heap[i]
		i = next
	}
}
