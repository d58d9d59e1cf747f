package circuit

import "math"

// Limits of the search over a jump.
const (
	jumpParts    = 24   // of the voltage between its two sides, at first
	descendParts = 6    // of the way down to where the law asks for everything
	jumpLeast    = 1e-5 // stride under which it is given up [V]
	jumpHalves   = 40   // halvings of the part that holds the root
	jumpNewton   = 40   // steps for one voltage
	jumpClose    = 1e-7 // step after which a voltage counts as held
)

// overJump finds the operating point that the closed loop holds where a fixed duty
// jumps: from between the two sides first, then by holding the sensed voltage. The
// duty that a voltage wants is a function of it where the voltage that a duty makes
// is not (a fold, Keller 1977), so the root is bracketed in volts.
func (s *Solver) overJump() bool {
	s.between()
	if s.joint(maxJoint, 0, 1) {
		return true
	}
	c := s.ctl
	copy(s.x, s.above)
	top := s.V(c.Plus, c.Minus)
	copy(s.x, s.below)
	bottom := s.V(c.Plus, c.Minus)
	stride := (top - bottom) / jumpParts
	for at := bottom; at < top && stride > jumpLeast; {
		copy(s.keep, s.x)
		duty := s.Duty
		v := math.Min(at+stride, top)
		held := s.holdVolts(v)
		if law, _ := s.law(); held && law > s.Duty {
			at = v
			continue
		}
		copy(s.x, s.keep)
		s.setDuty(duty)
		if held {
			return s.halved(at, v)
		}
		stride /= 3
	}
	return false
}

// halved ends the search between two voltages of which the lower wants less duty
// than the law gives and the upper more. Joint iteration from the lower may end it.
func (s *Solver) halved(lo, hi float64) bool {
	copy(s.keep, s.x)
	duty := s.Duty
	if s.joint(maxFar, 0, 1) && s.across(s.x) > lo && s.across(s.x) < hi {
		return true
	}
	copy(s.x, s.keep)
	s.setDuty(duty)
	for range jumpHalves {
		v := 0.5 * (lo + hi)
		if !s.holdVolts(v) {
			return false
		}
		if law, _ := s.law(); law > s.Duty {
			lo = v
		} else {
			hi = v
		}
	}
	return s.joint(maxJoint, 0, 1)
}

// holdVolts solves network and duty together for a sensed voltage, from where they
// stand: Newton on the system bordered by that voltage instead of the law.
func (s *Solver) holdVolts(v float64) bool {
	c := s.ctl
	for range jumpNewton {
		s.setDuty(s.Duty)
		if !s.step() {
			return false
		}
		s.dutyColumn()
		s.c.core.solve(s.cv, s.column)
		s.follow(s.search, false, s.dx, s.column)
		ec := s.across(s.column)
		dd := (s.V(c.Plus, c.Minus) + s.across(s.dx) - v) / ec
		if ec == 0 || math.IsNaN(dd) {
			return false
		}
		cut := math.Min(1, jointDuty/math.Max(math.Abs(dd), 1e-300))
		size := math.Abs(dd)
		for i := range s.x {
			d := s.dx[i] - s.column[i]*dd
			s.x[i] += cut * d
			size = math.Max(size, math.Abs(d*s.weight[i]))
		}
		s.Duty += cut * dd
		s.confine()
		if size < jumpClose {
			return s.Duty > -slack && s.Duty < 1+slack
		}
	}
	return false
}

// byVolts looks for a root that is the only one, from full field: down to the middle of
// the law in volts, of which the duty is a function, then by joint iteration. Where a
// line is weak the volts change so much with duty that a search by duty creeps.
func (s *Solver) byVolts() bool {
	copy(s.x, s.full)
	s.setDuty(1)
	return s.lineSlope < 0 && s.holdVolts(s.lineVolts) && s.joint(maxFar, 0, 1) && s.rises(s.Sheet.Slope)
}

// descend finds the operating point that the closed loop holds on the branch of the
// point above, where the point below it is off that branch: a machine that died can be
// led back to it by no duty. It goes down in volts from the point above to where the
// law asks for everything.
func (s *Solver) descend() bool {
	copy(s.x, s.above)
	at := s.across(s.x)
	end := at / 2
	if s.lineSlope < 0 {
		end = math.Min(at, s.lineVolts+1/s.lineSlope)
	}
	for stride := (at - end) / descendParts; stride > jumpLeast; {
		copy(s.keep, s.x)
		duty, v := s.Duty, at-stride
		held := s.holdVolts(v)
		if law, _ := s.law(); held && law > s.Duty {
			return s.halved(v, at)
		}
		if held && v < end {
			return false
		}
		if held {
			at = v
			continue
		}
		copy(s.x, s.keep)
		s.setDuty(duty)
		stride /= 3
	}
	return false
}
