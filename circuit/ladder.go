package circuit

import (
	"math"
	"slices"
)

// Start sets a first guess for the nodes.
func (s *Solver) Start(x []float64) { copy(s.X, x) }

// fixed solves at the present parameters by the ladder: plain from the present
// guess; a false transient from there; the same from flat.
func (s *Solver) fixed() error {
	copy(s.prev, s.x)
	if !s.gentle && s.newton() && s.steady() {
		return nil
	}
	s.Work.Rungs++
	copy(s.x, s.prev)
	if s.transient() {
		return nil
	}
	s.Work.Rungs++
	clear(s.x)
	if s.transient() {
		return nil
	}
	s.Work.Unresolved++
	s.residual(s.x, s.f, nil)
	worst := 0
	for i, v := range s.f {
		if math.Abs(v) > math.Abs(s.f[worst]) || v != v {
			worst = i
		}
	}
	return &NoSolution{Node: s.c.unknownName(s.c.ni + worst), Residual: s.f[worst], Rungs: "plain, false transient, false transient from flat"}
}

// Limits of the false transient: the conductance that holds every unknown near
// where it was, and how far a step may shrink before it is given up.
const (
	// inertia is how much slower a branch current follows than a node: in a
	// vehicle a field takes tens of milliseconds, a node none.
	inertia  = 100
	stiffest = 1e5
	softest  = 1e-9
	maxMoves = 400
)

// transient follows a false transient, implicit Euler with a growing step: a
// capacitance at every node and an inductance in every branch equation. It ends
// on a stable operating point, by and large the one the vehicle would settle on.
func (s *Solver) transient() bool {
	defer func() { s.stiff = 0 }()
	s.stiff = 1
	for range maxMoves {
		copy(s.prev, s.x)
		if s.newton() {
			if s.stiff < softest {
				s.stiff = 0
				return s.newton()
			}
			s.stiff /= 12
			continue
		}
		copy(s.x, s.prev)
		if s.stiff *= 16; s.stiff > stiffest {
			return false
		}
	}
	return false
}

// steady reports whether the Jacobian at the last iteration has the sign that the
// same network has when it is held fast: an even number of its modes grow. Where it
// has not, Newton has come to the point between a dead machine and one that feeds its
// own field, at which no vehicle stays.
func (s *Solver) steady() bool {
	if s.pin >= 0 {
		return true // a current that is held cannot run away
	}
	odd := (s.c.n-s.c.nn)%2 != 0 // held fast, a node's pivot is positive and an own unknown's negative
	for _, at := range s.c.core.diag {
		if s.cv[at] < 0 {
			odd = !odd
		}
	}
	return !odd
}

func (c *Compiled) unknownName(i int) string {
	if i < c.nn {
		return c.net.names[slices.Index(c.pos, int32(i))]
	}
	for _, d := range c.net.devs {
		_, nu, _ := d.dev.Size()
		if i-c.nn >= d.u && i-c.nn < d.u+nu {
			return d.name
		}
	}
	return "?"
}
