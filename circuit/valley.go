package circuit

import "math"

// Limits of the search for the valley's floor.
const (
	floorSteps = 40
	floorNear  = 2e-3 // bound on how far the floor lies under the lowest point seen [V]
)

// Waking is how far above nothing the floor of the valley lies that a machine from
// rest must pass to wake, for p [V]: above zero it wakes, below it stays asleep
// (Woken walks up to it from the near side and stops where it dips under). Unlike
// the state it goes smoothly with the parameters. Its derivatives with respect to
// them are added to grad: at the floor the current itself does not matter.
// It leaves the solver on that floor, which is no operating point.
func (s *Solver) Waking(p, grad []float64) (float64, error) {
	if err := s.take(p); err != nil {
		return 0, err
	}
	s.setDuty(s.lawAsleep())
	l, err := s.floor()
	if err != nil {
		return 0, err
	}
	if grad != nil {
		s.floorGrad(grad)
	}
	return l.volts, nil
}

// floor looks for the current at which the volts left over stop falling, by false
// position between one where they fall and one where they rise.
func (s *Solver) floor() (left, error) {
	near, err := s.pinned(0)
	if err != nil || near.slope >= 0 {
		return left{0, near.volts, near.slope}, err
	}
	a := left{0, near.volts, near.slope}
	b := left{amps: walkLeast, slope: -1}
	for b.slope <= 0 {
		q, err := s.pinned(b.amps)
		if err != nil {
			return left{}, err
		}
		b.volts, b.slope = q.volts, q.slope
		if b.slope > 0 {
			break
		}
		a = b
		if b.amps *= 2; b.amps > walkTop {
			return a, nil // falls as far as a field can carry
		}
	}
	wa, wb := a.slope, b.slope
	for range floorSteps {
		amps := (a.amps*wb - b.amps*wa) / (wb - wa)
		q, err := s.pinned(amps)
		if err != nil {
			return left{}, err
		}
		at := left{amps, q.volts, q.slope}
		if math.Abs(at.slope)*(b.amps-a.amps) < floorNear {
			return at, nil
		}
		if at.slope < 0 {
			a, wa = at, at.slope
			wb *= 0.5
		} else {
			b, wb = at, at.slope
			wa *= 0.5
		}
	}
	return a, nil
}

// floorGrad adds the derivatives of the volts left over with the current held.
func (s *Solver) floorGrad(grad []float64) {
	c := s.c
	c.prog.inward(s.val, s.X)
	seed := s.whole
	clear(seed)
	for _, e := range c.loopRow {
		seed[c.ni+int(e.j)] = s.loopSlope[e.j]
	}
	s.graded = false
	c.prog.transposed(s.val, seed)
	seed[c.ni+c.loop] = -1 // its equation stands for the volts themselves
	s.accumulate(seed, grad)
}
