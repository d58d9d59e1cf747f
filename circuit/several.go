package circuit

import "math"

// search is what looking for one control's duty remembers. Of several controls each
// is looked for with those behind it, its inner ones, following: to the outer search
// a network in which they have found their duties is what a network at fixed duties
// is to the innermost (docs/decisions/030). The duties of inner controls stand in x
// behind the core's unknowns, so that whoever keeps x keeps them.
type search struct {
	ctl     *Control // nil where the network has none
	inner   *search
	several bool // it is not the only one
	tail    int  // where its duty stands in x; that of the outermost stands nowhere

	Duty  float64
	Sheet Sheet

	column []float64 // dF/d(duty), then the core's answer to it
	keep   []float64 // solution before the joint iteration
	below  []float64 // solution at the last duty that was too low
	above  []float64 // and at the last that was too high
	full   []float64 // solution at full field
	rise   float64   // slope of the sensed voltage by duty there, when last looked at
	slope  float64   // and at the last joint step, of an inner one
	warm   bool      // x, full and Duty are a solution to go on from

	lawP, lawGrad []float64
	lawGrad0      float64   // slope of the law at the last gap
	grad          []float64 // d(duty)/d(parameter) of the last solve
	// The law's middle: volts, duty there and its slope.
	lineVolts, lineDuty, lineSlope float64
}

// searches makes the chain of a network's searches for x of m places.
func (c *Compiled) searches(m int) *search {
	v := func(n int) []float64 { return make([]float64, n) }
	var inner *search
	for k := max(1, len(c.net.ctls)) - 1; k >= 0; k-- {
		s := &search{inner: inner, several: len(c.net.ctls) > 1, tail: c.core.n + k - 1, column: v(m), keep: v(m), below: v(m), above: v(m), full: v(m), grad: v(c.net.nParam)}
		if k < len(c.net.ctls) {
			s.ctl = &c.net.ctls[k]
			s.lawP, s.lawGrad = v(len(s.ctl.LawParams)), v(len(s.ctl.LawParams))
		}
		inner = s
	}
	return inner
}

// settled solves the network with this search's duty held: at once, or by the search
// of the control within.
func (s *Solver) settled() error {
	if s.inner == nil {
		return s.fixed()
	}
	outer, final := s.search, s.final
	s.search, s.final = outer.inner, finalStep
	s.Duty = s.x[s.tail]
	err := s.controlled()
	if s.warm = err == nil; s.warm {
		s.x[s.tail] = s.Duty
	}
	s.search, s.final = outer, final
	return err
}

// follow makes answers of the core to something into answers of the core with the
// controls within c. The first is a Newton step, which also takes them towards their
// laws, and may be nil; the others are steps by a duty, turned round as column is.
func (s *Solver) follow(c *search, far bool, first []float64, others ...[]float64) {
	in := c.inner
	if in == nil {
		return
	}
	s.columnOf(in)
	s.c.core.solve(s.cv, in.column)
	in.column[in.tail] = -1
	s.follow(in, far, first, append(others[:len(others):len(others)], in.column)...)
	law, dv := s.lawOf(in)
	if far && math.Abs(law-in.Duty) > nearRoot && in.lineSlope != 0 {
		law, dv = in.lineDuty+in.lineSlope*(s.acrossOf(in, s.x)-in.lineVolts), in.lineSlope
	}
	in.slope = -s.acrossOf(in, in.column)
	den := 1 - dv*in.slope
	if first != nil {
		s.share(in, first, (law-in.Duty+dv*s.acrossOf(in, first))/den)
	}
	for _, x := range others {
		s.share(in, x, dv*s.acrossOf(in, x)/den)
	}
}

// share adds to a step what an inner control's own step does.
func (s *Solver) share(in *search, x []float64, step float64) {
	for i, v := range in.column {
		x[i] -= v * step
	}
}

// confine keeps the duties of the controls within where a duty can be.
func (s *Solver) confine() {
	for c := s.inner; c != nil; c = c.inner {
		s.x[c.tail] = math.Min(math.Max(s.x[c.tail], 0), 1)
		c.Duty = s.x[c.tail]
	}
}

// gainBelow is what more duty may ask for still more by, through the voltage that it
// takes from the law, where there is sure to be one root: a machine under its cut-in
// gives nothing and its field loads the line. From 1 there could be several.
const gainBelow = 0.5

// deadGain is the same of a machine whose duty does nothing.
const deadGain = 0.05

// rises says whether more duty, with a slope of the sensed voltage by duty, makes the
// law ask for less; or for hardly more, where another machine holds the line.
func (c *search) rises(slope float64) bool {
	return slope > 0 || c.several && slope*c.lineSlope < gainBelow
}

// sure says whether full field, when it was last looked at, left no doubt that a root
// next to the last one is still the only one.
func (c *search) sure() bool {
	return c.rise > sureRise || c.several && math.Abs(c.rise*c.lineSlope) < deadGain
}

// followed says whether the controls within are where their own searches would have
// found them: at full field, or where the sensed voltage rises with duty here and when
// full field was last looked at. From is where they were before: next to a root that
// was surely the only one the look is spared, as for a single control.
func (s *Solver) followed(from []float64) bool {
	for c := s.inner; c != nil; c = c.inner {
		d, sure := s.x[c.tail], c.rises(c.rise)
		if from != nil {
			sure = c.sure()
			if math.Abs(d-from[c.tail]) >= nextDuty {
				return false
			}
		}
		if d < 1-fullGap && !(sure && c.rises(c.slope)) {
			return false
		}
	}
	return true
}

// calm says whether a last correction moves the duties within by little.
func (s *Solver) calm(dd float64) bool {
	for c := s.inner; c != nil; c = c.inner {
		if !(math.Abs(s.dx[c.tail]-s.column[c.tail]*dd) < lastDuty) {
			return false
		}
	}
	return true
}

// slopeFollowed is dutySlope with the controls within following.
func (s *Solver) slopeFollowed() float64 {
	s.dutyColumn()
	s.c.core.solve(s.cv, s.column)
	s.follow(s.search, false, nil, s.column)
	return -s.across(s.column)
}

// Sheets describes the roots that all controls took, the outermost first.
func (s *Solver) Sheets() (all []Sheet) {
	for c := s.search; c != nil && c.ctl != nil; c = c.inner {
		all = append(all, c.Sheet)
	}
	return all
}

// DutyAt is the duty of a control, counted from the outermost.
func (s *Solver) DutyAt(k int) float64 {
	c := s.search
	for ; k > 0 && c.inner != nil; k-- {
		c = c.inner
	}
	return c.Duty
}
