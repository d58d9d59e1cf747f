package circuit

import "math"

// Law sets the controlled parameter from the sensed voltage.
type Law interface {
	// Duty returns the law's value and its derivative with respect to v; the
	// value must fall with v.
	Duty(v float64, p []float64) (d, dv float64)
	// Grad writes the derivatives of Duty with respect to p.
	Grad(v float64, p, out []float64)
}

// Control is the outer unknown: Param stands where Law, looking at the voltage
// from Plus to Minus, puts it. At a fixed value the network is easy; the outer
// search is over one number in 0..1 (docs/decisions/002).
type Control struct {
	Param       Param
	Plus, Minus Node
	Law         Law
	LawParams   []Param
}

// Regime names the branch of the operating point.
type Regime string

// The regimes of a controlled network.
const (
	Uncontrolled Regime = ""
	Resting      Regime = "resting"    // duty all but 0
	Regulating   Regime = "regulating" // between
	Full         Regime = "full"       // duty all but 1, as the only root
	Latched      Regime = "latched"    // duty all but 1 while the law has a lower root too
)

// Sheet describes the root that was taken.
type Sheet struct {
	Regime Regime
	Roots  int     // sign changes seen from full field down, 1 where only one was looked for
	Slope  float64 // d sensed / d duty at the solution [V]
}

// scan is where the duty search looks when the sensed voltage falls with duty
// at full field: the drop in a shared lead then feeds back and there may be
// several roots. Dense near the ends, where roots sit close together.
var scan = [...]float64{1, 0.99, 0.97, 0.94, 0.9, 0.84, 0.77, 0.69, 0.6, 0.5, 0.4, 0.3, 0.2, 0.12, 0.06, 0.02, 0}

const dutyTolerance = 1e-11

// controlled finds the root with the largest duty: the branch a real regulator
// is on when it comes from full field at start-up.
func (s *Solver) controlled() error {
	if s.certified && s.Duty > 0 && s.Duty < 1 {
		if ok, err := s.bracketed(0, 1, s.Duty); err == nil && ok {
			s.label(1)
			if s.Sheet.Slope > 0 {
				return nil
			}
		}
	}
	g, slope, err := s.gap(1)
	if err != nil {
		return err
	}
	s.certified = slope > 0
	if s.certified || g > -1e-3 {
		// With no more than a rounding of the soft clamp missing at full
		// field, the root is next door whatever the slope.
		guess := 1 + g
		if g < -0.5 {
			guess = 0.5
		}
		if ok, err := s.bracketed(0, 1, guess); err != nil || !ok {
			return s.stuck(err)
		}
		s.label(1)
		if s.Sheet.Regime == Full && slope <= 0 {
			return s.latchCheck()
		}
		return nil
	}
	return s.scanned(g)
}

func (s *Solver) stuck(err error) error {
	if err != nil {
		return err
	}
	s.Work.Unresolved++
	return &NoSolution{Node: "duty", Residual: 0, Rungs: "duty search"}
}

// scanned walks down from full field and takes the first sign change.
func (s *Solver) scanned(gTop float64) error {
	roots, hi := 0, 0
	prev := gTop
	for k := 1; k < len(scan); k++ {
		g, _, err := s.gap(scan[k])
		if err != nil {
			return err
		}
		if (prev < 0) != (g < 0) {
			if roots == 0 {
				hi = k
			}
			roots++
		}
		prev = g
	}
	if roots == 0 {
		return s.stuck(nil)
	}
	ok, err := s.bracketed(scan[hi], scan[hi-1], 0.5*(scan[hi]+scan[hi-1]))
	if err != nil || !ok {
		return s.stuck(err)
	}
	s.label(roots)
	return nil
}

// latchCheck looks whether a full-field root hides lower ones, then goes back
// to it.
func (s *Solver) latchCheck() error {
	keep := s.Duty
	roots, prev := 0, -1.0
	for _, d := range scan[1:] {
		g, _, err := s.gap(d)
		if err != nil {
			break
		}
		if (prev < 0) != (g < 0) {
			roots++
		}
		prev = g
	}
	if ok, err := s.bracketed(scan[1], 1, keep); err != nil || !ok {
		return s.stuck(err)
	}
	s.label(max(1, roots))
	return nil
}

func (s *Solver) label(roots int) {
	s.Sheet.Roots = roots
	switch {
	case s.Duty < 0.02:
		s.Sheet.Regime = Resting
	case s.Duty < 0.98:
		s.Sheet.Regime = Regulating
	case roots > 1:
		s.Sheet.Regime = Latched
	default:
		s.Sheet.Regime = Full
	}
}

// gap solves the network at a fixed duty and returns law(v)-d, and the slope of
// the sensed voltage with duty.
func (s *Solver) gap(d float64) (g, slope float64, err error) {
	c := s.c.net.ctl
	s.P[c.Param] = d
	s.Duty = d
	s.Work.DutyEvals++
	if err := s.fixed(); err != nil {
		return 0, 0, err
	}
	law, dv := s.law()
	slope = s.dutySlope()
	s.Sheet.Slope = slope
	s.lawGrad0 = dv
	return law - d, slope, nil
}

func (s *Solver) law() (d, dv float64) {
	c := s.c.net.ctl
	for i, p := range c.LawParams {
		s.lawP[i] = s.P[p]
	}
	return c.Law.Duty(s.V(c.Plus, c.Minus), s.lawP)
}

// dutySlope is d(sensed)/d(duty) with the factors of the last iteration, which
// lie one quadratic step from the solution.
func (s *Solver) dutySlope() float64 {
	c := s.c.net.ctl
	pair(s.lam, c.Plus, c.Minus)
	s.c.prog.transposed(s.val, s.lam)
	return s.paramDot(s.lam, c.Param)
}

// bracketed is Newton on the gap, kept inside a bracket that has g >= 0 at lo
// and g <= 0 at hi.
func (s *Solver) bracketed(lo, hi, d float64) (bool, error) {
	for range 40 {
		d = math.Min(math.Max(d, lo), hi)
		g, slope, err := s.gap(d)
		if err != nil {
			return false, err
		}
		if math.Abs(g) < dutyTolerance || hi-lo < 1e-14 {
			return true, nil
		}
		if g > 0 {
			lo = d
		} else {
			hi = d
		}
		next := d - g/(s.lawGrad0*slope-1)
		if !(next > lo && next < hi) {
			next = 0.5 * (lo + hi)
		}
		d = next
	}
	return false, nil
}
