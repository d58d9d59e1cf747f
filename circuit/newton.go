package circuit

import "math"

// Newton's limits. The step below which the last full step is taken as final
// leaves an error of its square by quadratic convergence: far under 1e-9 V.
const (
	maxNewton  = 60
	maxStrides = 14 // whole steps that are tried where a current is held
	finalStep  = 1e-6
	roughStep  = 1e-3
	plainStep  = 0.05
	plainSlope = 0.05 // [V] of the sensed voltage by duty from which its sign is plain
	minDamping = 1.0 / 4096
	trusted    = 0.2  // weighted step under which a step that shrinks is taken whole
	lastDuty   = 1e-5 // the most by which the last correction moves the duty
)

// newton runs damped iterations at fixed parameters. The step is accepted when
// the simplified correction shrinks (natural monotonicity test).
func (s *Solver) newton() bool {
	s.weigh()
	if s.pin >= 0 && s.strides() {
		return true
	}
	lam, last := 1.0, math.Inf(1)
	defer func() { s.there = false }()
	for range maxNewton {
		if !s.step() {
			return false
		}
		size := s.norm(s.dx)
		if math.IsNaN(size) || math.IsInf(size, 0) {
			return false
		}
		if size < s.final {
			s.move()
			return true
		}
		if size < trusted && size < 0.5*last {
			// Close by and shrinking: the test would only confirm it.
			s.move()
			last = size
			continue
		}
		last = size
		next, ok := s.damped(lam, size)
		if !ok {
			return false
		}
		lam = next
	}
	return false
}

// step puts the Newton step from x into dx and leaves the factors in cv.
func (s *Solver) step() bool {
	if !s.factored() {
		return false
	}
	s.c.core.solve(s.cv, s.dx)
	return true
}

// factored leaves the factors in cv and the negative residual in dx.
func (s *Solver) factored() bool {
	if s.there {
		s.there = false
		copy(s.cv, s.ahead)
	} else {
		s.residual(s.x, s.f, s.cv)
	}
	s.Work.Newton++
	s.Work.Factors++
	if !s.c.core.factor(s.cv) {
		return false
	}
	for i, v := range s.f {
		s.dx[i] = -v
	}
	clear(s.dx[len(s.f):])
	return true
}

func (s *Solver) move() {
	for i, d := range s.dx {
		s.x[i] += d
	}
}

// damped moves x along dx and returns the damping for the next iteration.
func (s *Solver) damped(lam, size float64) (float64, bool) {
	for lam >= minDamping {
		for i, d := range s.dx {
			s.trial[i] = s.x[i] + lam*d
		}
		s.look()
		s.c.core.solve(s.cv, s.bar)
		shrunk := s.norm(s.bar)
		if shrunk <= (1-lam/4)*size {
			copy(s.x, s.trial)
			s.there = s.pin < 0
			return math.Min(1, 2*lam), true
		}
		// The simplified correction estimates the curvature: the optimal
		// damping of a quadratic model, kept within a half and a tenth.
		diff := 0.0
		for i := range s.bar {
			diff = math.Max(diff, math.Abs(s.bar[i]-(1-lam)*s.dx[i]))
		}
		opt := lam / 2
		if diff > 0 && !math.IsNaN(diff) {
			opt = math.Min(opt, lam*lam*size/(2*diff))
		}
		lam = math.Max(opt, lam/10)
	}
	return lam, false
}

// look puts the negative residual at the trial point into bar. Mostly the next iteration
// begins there, so f and the Jacobian are kept; a held current's row is not taken out of
// one that may come to nothing.
func (s *Solver) look() {
	jac := s.ahead
	if s.pin >= 0 {
		jac = nil
	}
	s.residual(s.trial, s.f, jac)
	for i, v := range s.f {
		s.bar[i] = -v
	}
}

// norm is the largest weighted component.
func (s *Solver) norm(d []float64) float64 {
	m := 0.0
	for i, v := range d {
		if a := math.Abs(v * s.weight[i]); a > m || a != a {
			m = a
		}
	}
	return m
}

// strides is newton with every step taken whole, where a held current leaves one
// solution: a diode that must begin to carry it is passed over first, and what lies
// beyond is all but a straight line. It goes back where that does not end.
func (s *Solver) strides() bool {
	copy(s.trial, s.x)
	for range maxStrides {
		if !s.step() {
			break
		}
		size := s.norm(s.dx)
		if math.IsNaN(size) || math.IsInf(size, 0) {
			break
		}
		s.move()
		if size < s.final {
			return true
		}
	}
	copy(s.x, s.trial)
	return false
}
