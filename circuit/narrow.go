package circuit

import "math"

// Limits of the search by volts.
const (
	narrowTries = 40
	sureWidth   = 1e-2 // width of a bracket from which its points are found to the last digit
	deepest     = 0.45 // how far down, of the duty above, a step from above may go
	nothing     = 0.02 // a duty under which it goes to none at once
)

// narrow is closedIn for one control of several. Where another machine holds the line
// most duties leave the law clamped, and a clamped law says no more than on which side
// the root is; how far the volts are from the law's middle says how far. So steps are
// Newton's on the law gone on straight, but never deep below the point above: what a
// duty gives bends over from a corner, at cut-in, under which it says nothing at all.
func (s *Solver) narrow(lo, hi, d float64) (bool, error) {
	final := s.final
	defer func() { s.final = final }()
	for k := range narrowTries {
		s.final = roughStep
		if hi-lo < sureWidth {
			s.final = finalStep
		}
		g, slope, err := s.gap(d)
		if err != nil {
			return false, err
		}
		if math.Abs(g) < dutyTolerance {
			s.final = finalStep
			_, _, err = s.gap(d)
			return err == nil, err
		}
		if g > 0 {
			lo = d
			copy(s.below, s.x)
		} else {
			hi = d
			copy(s.above, s.x)
		}
		if hi-lo < jump {
			return s.overJump(), nil
		}
		if (math.Abs(g) < nearRoot || hi-lo < sureWidth) && s.finishJoint(d, lo, hi) {
			return true, nil
		}
		h := s.lineDuty + s.lineSlope*(s.across(s.x)-s.lineVolts) - d
		d = within(lo, hi, d-h/(s.lineSlope*slope-1), k)
	}
	return s.closedIn(lo, hi, 0.5*(lo+hi))
}

// within chooses the next duty of a bracket: Newton's where it is inside and not deep
// down, every fourth time the middle.
func within(lo, hi, newton float64, k int) float64 {
	least := math.Max(lo, deepest*hi)
	switch {
	case lo == 0 && hi < nothing:
		return 0
	case k%4 == 3 && lo > 0 || !(newton < hi):
		return 0.5 * (least + hi)
	case newton > least:
		return newton
	case least > lo:
		return least
	}
	return 0.5 * (lo + hi)
}
