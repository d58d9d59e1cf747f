package circuit

import "math"

// A machine that feeds its own field has two stable operating points at one
// speed: asleep, where its field has only what a lamp and its remanence give, and
// awake, where it carries itself. Which of them it is in hangs on what went before.
// Woken answers for a machine that started from nothing (docs/decisions/015).
//
// The field current is the outer unknown. Held at a value it leaves a network with
// one solution; the volts that are then left over in the field's loop, with the
// duty that the law asks for, say whether it would grow or fall. From nothing it
// grows to the lowest current at which nothing is left over.

// Feeds marks a device's own unknown, by the place that Add gave: the current of
// the branch that can feed itself. Its own equation must be the volts left over
// along that branch.
func (n *Network) Feeds(own int) { n.loop = own + 1 }

// Asleep is the regime of a machine that has not woken.
const Asleep Regime = "asleep"

// lull is what is remembered of the walk from nothing: where it ended, and how.
type lull struct {
	x     []float64
	amps  float64
	awake bool
	known bool
}

// of copies another.
func (l *lull) of(o *lull) {
	l.x = append(l.x[:0], o.x...)
	l.amps, l.awake, l.known = o.amps, o.awake, o.known
}

// left is the loop with its current held: volts left over, and how they go with
// the current [Ohm].
type left struct{ amps, volts, slope float64 }

// at is the tangent at a current.
func (far left) at(amps float64) float64 { return far.volts + far.slope*(amps-far.amps) }

// Limits of the walk.
const (
	walkSteps  = 60
	walkDone   = 1e-5 // a step under which the joint iteration takes over [A]
	walkSure   = 0.02 // volts left over from which the valley counts as open [V]
	walkLeast  = 0.1  // longest first step [A]
	walkTop    = 256  // no field carries more [A]
	awakeDuty  = 0.98 // under it the law has taken over
	awakeSteps = 8
	rouseSteps = 14
	topAwake   = 4.0 // and from above, where it has come down
	downBy     = 0.8
	passedBy   = 1.25 // times a point's current, by which the law has taken over at full duty
	firstAwake = 0.5  // where a woken machine's current is looked for first [A]
	floorAmps  = 1e-3 // that close to its far side the valley's floor is found, and above [A]
	dutyNear   = 0.02 // a duty that balances the loop well enough
	poiseTries = 3
	nearAmps   = 0.05 // a step, as a share of the current, from which the joint iteration is tried
)

// Woken finds the operating point for p of a machine that started from nothing and
// then saw past: the same parameters, or those of a speed to which it was taken up
// before it came back.
func (s *Solver) Woken(p, past []float64) error {
	guess := s.Duty
	copy(s.keep, s.x)
	if err := s.take(past); err != nil {
		return err
	}
	awake, start, err := s.wakes()
	came := &p[0] != &past[0]
	if err == nil && came {
		err = s.take(p)
	}
	if err == nil && came && awake {
		if awake, err = s.back(guess); err == nil && awake {
			return s.woke(true, nil)
		}
	}
	if err == nil && came {
		s.lull.known = false
		awake, start, err = s.wakes()
	}
	switch {
	case err != nil:
	case awake:
		err = s.rouse(start, guess)
	default:
		if err = s.sleep(); err != nil {
			// At the very edge of waking there is nothing to rest on.
			awake = true
			err = s.rouse(start, guess)
		}
	}
	if err != nil && awake {
		// A regulator that senses elsewhere than what feeds it: where the current does
		// not lead to a point that the law holds, the duty does.
		copy(s.x, s.lull.x)
		s.warm = false
		err = s.controlled()
	}
	return s.woke(awake, err)
}

// woke ends a solve.
func (s *Solver) woke(awake bool, err error) error {
	s.warm, s.roused = err == nil, awake
	if err == nil && awake {
		s.label(1)
	}
	return s.finish(err)
}

// back is a woken machine that has come down to the present speed.
func (s *Solver) back(guess float64) (bool, error) {
	if s.warm && s.roused {
		copy(s.x, s.keep)
		s.Duty = guess
		s.weigh()
		if s.joint(awakeSteps, 0, 1) && s.x[s.c.loop] > walkLeast && (s.Duty < awakeDuty || s.x[s.c.loop] > firstAwake) {
			return true, nil
		}
	}
	copy(s.x, s.lull.x)
	return s.comeDown()
}

// take takes parameters over.
func (s *Solver) take(p []float64) error {
	copy(s.P, p)
	s.graded, s.senseFresh = false, false
	s.prepare()
	s.straighten(s.search)
	s.Work.Solves++
	s.Sheet = Sheet{Roots: 1}
	if !s.linear() {
		s.Work.Unresolved++
		return &NoSolution{Node: "resistors", Rungs: "elimination of the inner nodes"}
	}
	return nil
}

// pin is the network solved with the loop's current held at the present duty.
type pin struct {
	volts, slope, byDuty float64 // left over, and how that goes with current [Ohm] and duty [V]
	sense, senseDuty     float64 // how the sensed volts go with current [Ohm] and duty [V]
}

func (s *Solver) pinned(amps float64) (pin, error) {
	loop := s.c.loop
	s.pin, s.pinAt, s.final = loop, amps, roughStep
	s.x[loop] = amps
	err := s.fixed()
	s.pin, s.final = -1, finalStep
	if err != nil {
		return pin{}, err
	}
	p := pin{volts: s.loopGap + s.along(s.dx)} // the last step was taken after it was looked at
	clear(s.dx)
	s.dx[loop] = 1
	s.c.core.solve(s.cv, s.dx)
	p.slope, p.sense = s.along(s.dx), s.across(s.dx)
	s.dutyColumn()
	s.column[loop] = 0
	s.c.core.solve(s.cv, s.column)
	p.byDuty, p.senseDuty = -s.along(s.column), -s.across(s.column)
	return p, nil
}

// held is what is left over with the duty that the law asks for. Where the duty was
// another the difference is made good in a straight line.
func (s *Solver) held(amps float64) (left, error) {
	p, err := s.pinned(amps)
	if err != nil {
		return left{}, err
	}
	law, dv := s.law()
	l := left{amps: amps, volts: p.volts + p.byDuty*(law-s.Duty), slope: p.slope + p.byDuty*dv*p.sense}
	s.setDuty(law)
	return l, nil
}

// along is what a change of the unknowns does to the volts left over.
func (s *Solver) along(dx []float64) float64 {
	sum := 0.0
	for _, e := range s.c.loopRow {
		sum += s.loopSlope[e.j] * dx[e.j]
	}
	return sum
}

// holdLoop replaces the loop's own equation by its current being held, and keeps what
// the equation said.
func (s *Solver) holdLoop(f, x, jac []float64) {
	s.loopGap = f[s.pin]
	f[s.pin] = x[s.pin] - s.pinAt
	if jac == nil {
		return
	}
	for _, e := range s.c.loopRow {
		s.loopSlope[e.j] = jac[e.at]
		jac[e.at] = 0
	}
	jac[s.c.core.diagAt[s.pin]] = 1
}

// sleep finishes where the walk ended.
func (s *Solver) sleep() error {
	s.weigh()
	at := s.x[s.c.loop]
	if !s.joint(maxJoint, 0, 1) || math.Abs(s.x[s.c.loop]-at) > walkLeast {
		return &NoSolution{Node: "field loop", Rungs: "asleep"}
	}
	if s.label(1); s.x[s.c.loop] < firstAwake {
		s.Sheet.Regime = Asleep
	}
	return nil
}

// rouse finds the point at which a woken machine comes to rest, above from.
func (s *Solver) rouse(from left, guess float64) error {
	if s.warm && s.roused {
		copy(s.x, s.keep)
		s.Duty = guess
		s.weigh()
		if s.jointInside(rouseSteps) && (s.Duty < awakeDuty || s.x[s.c.loop] > from.amps) && s.comesTo() {
			return nil
		}
		copy(s.x, s.lull.x)
	}
	return s.settle(from)
}

// comesTo says whether a machine that rises at full duty comes to the point where
// the joint iteration ended: the law must have taken over a little above it. Where
// more duty lowers the sensed volts it may pass by and end at full field.
func (s *Solver) comesTo() bool {
	if s.Duty >= awakeDuty {
		return true
	}
	copy(s.below, s.x)
	duty := s.Duty
	_, limited, err := s.heldFull(passedBy * s.x[s.c.loop])
	copy(s.x, s.below)
	s.setDuty(duty)
	return err == nil && limited
}

// poise is the loop with its current held and the duty that keeps it there: how
// far the law asks for more, and how that goes with the current. Where no duty keeps
// it there it is the volts left over.
type poise struct{ more, slope float64 }

// poised solves the network with the loop's current held and the duty free to
// balance the loop. What the duty does to the loop is a straight line but for the
// little that the network's volts move, so two solves do.
func (s *Solver) poised(amps float64) (poise, error) {
	for k := 0; ; k++ {
		l, err := s.pinned(amps)
		if err != nil {
			return poise{}, err
		}
		law, dv := s.law()
		need := s.Duty - l.volts/l.byDuty
		switch {
		case l.volts > 0 && s.Duty <= 0, l.volts < 0 && s.Duty >= 1:
			return poise{l.volts, l.slope}, nil
		case k > 0 && math.Abs(need-s.Duty) < dutyNear, k == poiseTries:
			byAmps := -l.slope / l.byDuty
			return poise{law - need, dv*(l.sense+l.senseDuty*byAmps) - byAmps}, nil
		}
		s.setDuty(math.Min(math.Max(need, 0), 1))
	}
}

// settle finds the point above from. It goes up at the duty of a machine that
// sleeps until that is balanced, which is the answer where the law still asks for
// it, or until the law asks for less; then it looks for the current at which the law
// asks for just the duty that keeps it there.
func (s *Solver) settle(from left) error {
	b := bracket{lo: from.amps, floor: from.amps, hi: math.Inf(1), at: math.Max(2*from.amps, firstAwake)}
	limited := false // by the law, and not by what the duty can carry
	ok, err := s.close(&b, func() (h poise, err error) {
		if !limited {
			if h, limited, err = s.heldFull(b.at); limited {
				b.lo = from.amps // with less duty the sensed volts are higher, and the point may lie lower
			}
		}
		if limited && err == nil {
			h, err = s.poised(b.at)
		}
		return h, err
	})
	if err != nil || !ok {
		return s.stuck(err)
	}
	return nil
}

// close narrows a bracket. Joint iteration ends it as soon as that comes to rest
// inside.
func (s *Solver) close(b *bracket, look func() (poise, error)) (bool, error) {
	for range walkSteps {
		h, err := look()
		if err != nil {
			return false, err
		}
		if b.take(h) && s.ends(b.floor, b.hi) {
			return true, nil
		}
		if b.hi-b.lo < walkDone || b.at > walkTop {
			break
		}
	}
	return false, nil
}

// comeDown finds the point at which a woken machine is that has come down to a
// lower speed: the highest. It says false where that speed does not keep it awake.
func (s *Solver) comeDown() (bool, error) {
	b := bracket{hi: math.Inf(1), at: topAwake}
	look := func() (poise, error) { return s.poised(b.at) }
	s.setDuty(s.lawAsleep())
	for b.at > walkLeast && b.at < walkTop {
		h, err := look()
		switch {
		case err != nil:
			return false, err
		case h.more <= 0:
			b.hi = b.at
			b.at *= downBy
		case math.IsInf(b.hi, 1):
			b.at *= 2
		default:
			b.lo, b.floor = b.at, b.at
			b.at = 0.5 * (b.lo + b.hi)
			return s.close(&b, look) // where it finds nothing, what is between is where it sleeps
		}
	}
	return false, nil
}

// heldFull is the loop at full duty with its current held: what is left over, in volts,
// or that the law asks for less.
func (s *Solver) heldFull(amps float64) (h poise, limited bool, err error) {
	duty := s.lawAsleep()
	s.setDuty(duty)
	p, err := s.pinned(amps)
	if err != nil {
		return h, false, err
	}
	law, _ := s.law()
	return poise{p.volts, p.slope}, law < awakeDuty*duty, nil
}

// bracket is the search for a current at which nothing more is asked for.
type bracket struct {
	lo, hi, at float64
	floor      float64 // what joint iteration must stay above
	looks      int
}

// take narrows it by what was found at a current and chooses the next. It tells
// whether the last was near the end.
func (b *bracket) take(h poise) (near bool) {
	was := b.at
	if h.more > 0 {
		b.lo = was
	} else {
		b.hi = was
	}
	step := -h.more / h.slope
	inside := h.slope < 0 && was+step > b.lo && was+step < b.hi
	b.looks++
	switch {
	case inside && b.looks%4 != 0: // Newton that creeps along one side gives way to halving
		b.at = math.Min(was+step, 2*was)
	case math.IsInf(b.hi, 1):
		b.at = 2 * was
	default:
		b.at = 0.5 * (b.lo + b.hi)
	}
	return inside && math.Abs(step) < nearAmps*was || b.hi-b.lo < walkDone
}

// ends goes on by joint iteration and goes back where that leaves the bracket. Below
// it a machine is awake all the same where the law has taken over.
func (s *Solver) ends(lo, hi float64) bool {
	copy(s.below, s.x)
	duty := s.Duty
	s.weigh()
	if s.joint(maxJoint, 0, 1) && (s.Duty < awakeDuty || s.x[s.c.loop] > lo*(1-nearAmps)) && s.x[s.c.loop] < hi*(1+nearAmps) {
		return true
	}
	copy(s.x, s.below)
	s.setDuty(duty)
	return false
}
