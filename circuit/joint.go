package circuit

import "math"

// Limits of the joint iteration.
const (
	maxJoint  = 60
	maxClose  = 7    // iterations for a root close by
	maxFar    = 12   // and for one anywhere
	mustNear  = 4    // iterations after which that is given up where
	nearStep  = 0.5  // a step is still longer than this
	jointDuty = 0.05 // longest step in duty, of a search in a bracket
	jointDone = 1e-9 // step after which the last correction leaves its square
	roughDone = 1e-4 // the same where a microvolt is enough
)

// joint solves network and duty together, by Newton on the bordered system,
// inside a bracket of duty. Between two branches the open loop is unstable; the
// closed loop is not.
func (s *Solver) joint(steps int, lo, hi float64) bool {
	return s.jointWhile(steps, func() bool { return s.Duty >= lo-slack && s.Duty <= hi+slack })
}

// jointInside is joint with the duty kept where a duty can be instead of given up
// where a step leaves it: from a point whose parameters have moved, the first steps do.
func (s *Solver) jointInside(steps int) bool {
	return s.jointWhile(steps, func() bool {
		s.Duty = math.Min(math.Max(s.Duty, 0), 1)
		return true
	})
}

// jointWhile is the joint iteration for as long as in holds after each step.
func (s *Solver) jointWhile(steps int, in func() bool) bool {
	for range steps {
		law, dv := s.law()
		step, ok := s.jointStep(law, dv, false)
		if !ok || !in() {
			return false
		}
		if step < s.done {
			s.Sheet.Slope = s.dutySlope()
			return true
		}
	}
	return false
}

// nearRoot is the gap from which the joint iteration is tried, and slack how
// far its duty may leave the bracket.
const (
	nearRoot = 0.2
	slack    = 1e-6
)

// finishJoint tries to end the search by joint iteration from here: both
// unknowns converge quadratically together. It goes back when that fails.
func (s *Solver) finishJoint(d, lo, hi float64) bool {
	copy(s.keep, s.x)
	if s.joint(7, lo, hi) && s.followed(nil) {
		return true
	}
	copy(s.x, s.keep)
	s.setDuty(d)
	return false
}

// approach solves network and duty together from anywhere. Where the law is
// clamped and the duty far from it, Newton knows nothing of the other end: there
// the law is taken as going on straight, and so looks at the voltage alone.
func (s *Solver) approach() bool {
	for k := range maxFar {
		law, dv := s.law()
		if math.Abs(law-s.Duty) > nearRoot && s.lineSlope != 0 {
			law, dv = s.lineDuty+s.lineSlope*(s.across(s.x)-s.lineVolts), s.lineSlope
		}
		step, ok := s.jointStep(law, dv, true)
		if !ok || k >= mustNear && step > nearStep {
			return false
		}
		if step < s.done {
			s.Sheet.Slope = s.dutySlope()
			return true
		}
	}
	return false
}

// straighten looks up a law's middle.
func (s *Solver) straighten(c *search) {
	for i, p := range c.ctl.LawParams {
		c.lawP[i] = s.P[p]
	}
	c.lineVolts, c.lineDuty, c.lineSlope = c.ctl.Law.Straight(c.lawP)
}

// jointStep is one bordered Newton step towards a law with its slope; it returns
// its size. A far step goes its whole length, within what a duty can be; else it is
// cut.
func (s *Solver) jointStep(law, dv float64, far bool) (float64, bool) {
	s.setDuty(s.Duty)
	if !s.factored() {
		return 0, false
	}
	s.dutyColumn()
	s.c.core.solveBoth(s.cv, s.dx, s.column)
	s.follow(s.search, far, s.dx, s.column)
	ea, ec := s.across(s.dx), s.across(s.column)
	den := 1 + dv*ec
	if den == 0 || den != den {
		return 0, false
	}
	dd := (law - s.Duty + dv*ea) / den
	size := math.Abs(dd)
	if far {
		dd = math.Min(math.Max(dd, -s.Duty), 1-s.Duty)
	}
	for c := s.inner; c != nil; c = c.inner {
		size = math.Max(size, math.Abs(s.dx[c.tail]-s.column[c.tail]*dd))
	}
	cut := 1.0
	if size > jointDuty && !far {
		cut = jointDuty / size
	}
	for i := range s.x {
		d := s.dx[i] - s.column[i]*dd
		s.x[i] += cut * d
		size = math.Max(size, math.Abs(d*s.weight[i]))
	}
	s.Duty += cut * dd
	s.confine()
	return size, size == size
}

// across is the sensed voltage of a vector of unknowns.
func (s *Solver) across(x []float64) float64 { return s.acrossOf(s.search, x) }

// acrossOf is that of a control.
func (s *Solver) acrossOf(c *search, x []float64) float64 {
	return at(x, s.outer(c.ctl.Plus)) - at(x, s.outer(c.ctl.Minus))
}

// dutyColumn fills column with dF/d(duty).
func (s *Solver) dutyColumn() { s.columnOf(s.search) }

// columnOf does so for a control.
func (s *Solver) columnOf(of *search) {
	clear(of.column)
	c := of.ctl
	for k := range s.c.devs {
		d := &s.c.devs[k]
		for q, own := range d.params {
			if own != c.Param {
				continue
			}
			lg := s.devGrad(d)
			for i, gi := range d.x {
				if gi >= 0 {
					of.column[gi] += lg[i*d.np+q]
				}
			}
		}
	}
}
