package circuit

import "math"

// Law sets the controlled parameter from the sensed voltage.
type Law interface {
	// Duty returns the law's value and its derivative with respect to v; the
	// value must fall with v.
	Duty(v float64, p []float64) (d, dv float64)
	// Straight returns the middle of the law: a voltage, the duty there and the
	// slope there, 0 where the law hardly looks at the voltage.
	Straight(p []float64) (v, d, slope float64)
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

// fallen is the share of the sensed voltage above the root under which the point below
// it is one of a machine that does not charge. A battery alone holds more.
const fallen = 0.5

// controlled finds the root with the largest duty: the branch a real regulator
// is on when it comes from full field at start-up. It looks at full field first.
// Where the sensed voltage rises with duty there, the root is the only one; else
// the search walks down from full field. A root that is at full field itself has
// none above it, and where the voltage last rose steeply there and the root is
// found next to the last one, the look is spared.
func (s *Solver) controlled() error {
	copy(s.keep, s.x)
	duty := s.Duty
	for c := s.search; c != nil; c = c.inner {
		s.straighten(c)
	}
	s.weigh()
	if s.spared(duty) {
		s.label(1)
		return nil
	}
	s.Duty = duty
	if s.warm {
		copy(s.x, s.full)
	}
	g, slope, err := s.fullField()
	if err != nil {
		return err
	}
	s.gentle = false // what follows goes on from a point of the same branch
	copy(s.full, s.x)
	s.rise = slope
	certified := s.rises(slope)
	switch {
	case !certified && g <= -fullGap:
		return s.scanned(g)
	case !certified && s.atFull() && s.followed(nil):
		s.label(1)
	case certified && (s.resume(duty) || s.byVolts()) && s.followed(nil):
		s.label(1)
		return nil
	default:
		copy(s.x, s.full)
		copy(s.above, s.full)
		if ok, err := s.bracketed(0, 1, math.Max(1+g, 0.5)); err != nil || !ok {
			return s.stuck(err)
		}
		s.label(1)
	}
	if s.CountRoots && s.Sheet.Regime == Full && !certified {
		return s.latchCheck()
	}
	return nil
}

// spared finds the root next to the last one, where the look at full field can be
// spared: at full field itself, and where the voltage last rose steeply there.
func (s *Solver) spared(duty float64) bool {
	if !s.warm || s.gentle || s.CountRoots {
		return false
	}
	if duty >= 1-fullGap && s.atFull() && s.followed(s.keep) {
		copy(s.full, s.x)
		return true
	}
	return s.sure() && s.resume(duty) && math.Abs(s.Duty-duty) < nextDuty && s.followed(s.keep)
}

// fullField is the gap at full field with the slope there. Only two signs are
// asked, so it need not be found to the last digit: a step of a twentieth of a
// volt leaves a millivolt or so, one of a millivolt a microvolt where a sign is
// close.
func (s *Solver) fullField() (g, slope float64, err error) {
	s.final = plainStep
	defer func() { s.final = finalStep }()
	g, slope, err = s.gap(1)
	if err == nil && (math.Abs(slope) < plainSlope || slope < 0 && g < -fullGap/10) {
		s.final = roughStep
		return s.gap(1)
	}
	return g, slope, err
}

// fullGap is the gap at full field under which the root is next door whatever
// the slope: no more than a rounding of the soft clamp is missing.
const fullGap = 1e-3

// atFull looks for a root at full field by joint iteration from where x stands.
func (s *Solver) atFull() bool {
	s.Duty = 1
	return s.joint(maxClose, 1-fullGap, 1) && s.steady()
}

// sureRise is the slope of the sensed voltage by duty at full field [V] with which
// it will not have turned round at a point next to the one it was found at, and
// nextDuty how far the next point's duty may be.
const (
	sureRise = 0.5
	nextDuty = 0.05
)

// resume tries to go on from the last solution by joint iteration, or from full
// field where there is none.
func (s *Solver) resume(duty float64) bool {
	if s.warm && duty > 0 && duty < 1 {
		copy(s.x, s.keep)
		s.Duty = duty
	}
	return s.approach() && s.rises(s.Sheet.Slope)
}

// Warm is where a solve ended, to go on from.
type Warm struct {
	x, full []float64
	duty    float64
	lull    lull
	roused  bool
	rise    float64
	inner   []foot // of the controls within
}

// foot is where an inner control's search stood at full field.
type foot struct {
	full []float64
	rise float64
}

// Save copies where the last solve ended into w.
func (s *Solver) Save(w *Warm) {
	w.x = append(w.x[:0], s.x...)
	w.full = append(w.full[:0], s.full...)
	w.duty, w.rise, w.roused = s.Duty, s.rise, s.roused
	w.lull.of(&s.lull)
	k := 0
	for c := s.inner; c != nil; c = c.inner {
		if k == len(w.inner) {
			w.inner = append(w.inner, foot{})
		}
		f := &w.inner[k]
		f.full, f.rise = append(f.full[:0], c.full...), c.rise
		k++
	}
}

// Doubt makes a solve that starts from w look at full field again.
func (w *Warm) Doubt() {
	w.rise = 0
	for k := range w.inner {
		w.inner[k].rise = 0
	}
}

// Resume makes the next solve start from w.
func (s *Solver) Resume(w *Warm) {
	copy(s.x, w.x)
	copy(s.full, w.full)
	s.Duty, s.rise, s.warm, s.roused = w.duty, w.rise, true, w.roused
	s.lull.of(&w.lull)
	for k, c := 0, s.inner; c != nil && k < len(w.inner); k, c = k+1, c.inner {
		copy(c.full, w.inner[k].full)
		c.Duty, c.rise, c.warm = s.x[c.tail], w.inner[k].rise, true
	}
}

func (s *Solver) stuck(err error) error {
	if err != nil {
		return err
	}
	s.Work.Unresolved++
	return &NoSolution{Node: "duty", Residual: 0, Rungs: "duty search"}
}

// scanned walks down from full field and takes the first sign change. It goes on
// to the end only where the others are to be counted.
func (s *Solver) scanned(gTop float64) error {
	roots, hi := 0, 0
	prev := gTop
	s.final = roughStep // for a sign
	defer func() { s.final = finalStep }()
	for k := 1; k < len(scan) && (roots == 0 || s.CountRoots); k++ {
		copy(s.keep, s.x)
		g, _, err := s.gap(scan[k])
		if err != nil {
			return err
		}
		if (prev < 0) != (g < 0) {
			if roots == 0 {
				hi = k
				copy(s.above, s.keep)
				copy(s.below, s.x)
			}
			roots++
		}
		prev = g
	}
	s.final = finalStep
	if roots == 0 {
		return s.stuck(nil)
	}
	ok, err := s.bracketed(scan[hi], scan[hi-1], 0.5*(scan[hi]+scan[hi-1]))
	if err != nil || !ok {
		return s.stuck(err)
	}
	s.label(roots)
	if s.several {
		s.rise = s.Sheet.Slope // next to this root it is gone on from; a walk of nested searches is dear
	}
	return nil
}

// latchCheck looks whether a full-field root hides lower ones, then goes back
// to it.
func (s *Solver) latchCheck() error {
	keep := s.Duty
	copy(s.above, s.x)
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
	copy(s.x, s.above)
	if ok, err := s.bracketed(scan[1], 1, keep); err != nil || !ok {
		return s.stuck(err)
	}
	s.label(max(1, roots))
	return nil
}

func (c *search) label(roots int) {
	c.Sheet.Roots = roots
	switch {
	case c.Duty < 0.02:
		c.Sheet.Regime = Resting
	case c.Duty < 0.98:
		c.Sheet.Regime = Regulating
	case roots > 1:
		c.Sheet.Regime = Latched
	default:
		c.Sheet.Regime = Full
	}
}

// gap solves the network at a fixed duty and returns law(v)-d, and the slope of
// the sensed voltage with duty.
func (s *Solver) gap(d float64) (g, slope float64, err error) {
	s.setDuty(d)
	s.Work.DutyEvals++
	if err := s.settled(); err != nil {
		return 0, 0, err
	}
	law, dv := s.law()
	slope = s.dutySlope()
	s.Sheet.Slope = slope
	s.lawGrad0 = dv
	return law - d, slope, nil
}

// setDuty puts the controlled parameter at d, and those of the controls within where
// x has them.
func (s *Solver) setDuty(d float64) {
	s.Duty = d
	s.put(s.ctl.Param, d)
	for c := s.inner; c != nil; c = c.inner {
		c.Duty = s.x[c.tail]
		s.put(c.ctl.Param, c.Duty)
	}
}

// put gives a parameter to the devices that have it.
func (s *Solver) put(at Param, d float64) {
	s.P[at] = d
	for k := range s.c.devs {
		dev := &s.c.devs[k]
		for q, p := range dev.params {
			if p == at {
				s.own[dev.k+q] = d
			}
		}
	}
}

func (s *Solver) law() (d, dv float64) { return s.lawOf(s.search) }

// lawOf is what a control's law asks for at x.
func (s *Solver) lawOf(c *search) (d, dv float64) {
	for i, p := range c.ctl.LawParams {
		c.lawP[i] = s.P[p]
	}
	return c.ctl.Law.Duty(s.V(c.ctl.Plus, c.ctl.Minus), c.lawP)
}

// dutySlope is d(sensed)/d(duty) with the factors of the last iteration, which
// lie one quadratic step from the solution.
func (s *Solver) dutySlope() float64 {
	if s.inner != nil {
		return s.slopeFollowed()
	}
	c := s.ctl
	pair(s.lam, s.outer(c.Plus), s.outer(c.Minus))
	s.c.core.transposed(s.cv, s.lam)
	return s.paramDot(s.lam, c.Param)
}

// bracketed finds a root in a bracket that has g >= 0 at lo and g <= 0 at hi, on the
// branch of the point above it. A machine that died at a duty of the search stays dead
// at all that follow, up to full field.
func (s *Solver) bracketed(lo, hi, d float64) (bool, error) {
	look := s.closedIn
	if s.several {
		look = s.narrow
	}
	ok, err := look(lo, hi, d)
	if err != nil || !ok || s.across(s.x) >= fallen*s.across(s.above) {
		return ok, err
	}
	copy(s.below, s.x)
	duty := s.Duty
	if !s.descend() {
		copy(s.x, s.below)
		s.setDuty(duty)
	}
	return true, nil
}

// closedIn is Newton on the gap, kept inside the bracket.
func (s *Solver) closedIn(lo, hi, d float64) (bool, error) {
	width := hi - lo
	for k := range 80 {
		if k%4 == 3 {
			// Newton that creeps along one side gives way to halving.
			if hi-lo > 0.25*width {
				d = 0.5 * (lo + hi)
			}
			width = hi - lo
		}
		d = math.Min(math.Max(d, lo), hi)
		g, slope, err := s.gap(d)
		if err != nil {
			return false, err
		}
		lawSlope := s.lawGrad0
		if math.Abs(g) < dutyTolerance {
			return true, nil
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
		if math.Abs(g) < nearRoot && s.finishJoint(d, lo, hi) {
			return true, nil
		}
		next := d - g/(lawSlope*slope-1)
		if !(next > lo && next < hi) {
			next = 0.5 * (lo + hi)
		}
		d = next
	}
	return false, nil
}

// jump is the width of a bracket that holds a jump and no root: at a fixed duty
// the network itself has two operating points there (a machine that feeds its
// own field through a poor joint), and the regulator holds it between them.
const jump = 1e-7

// between interpolates the solutions either side of the jump.
func (s *Solver) between() {
	lo, hi := 0.0, 1.0
	for range 50 {
		t := 0.5 * (lo + hi)
		for i := range s.x {
			s.x[i] = s.below[i] + t*(s.above[i]-s.below[i])
		}
		if law, _ := s.law(); law > s.Duty {
			lo = t
		} else {
			hi = t
		}
	}
}

// outer is where a node that a device or the control touches stands among the
// core's unknowns; negative for the reference.
func (s *Solver) outer(n Node) int32 {
	if n == 0 {
		return -1
	}
	return s.c.pos[n] - int32(s.c.ni)
}
