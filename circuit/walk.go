package circuit

import "math"

// wakes walks up from nothing. Volts are left over at no current; from there they
// fall, through a valley, and rise again once the machine feeds itself. The valley
// is convex, so Newton's method comes to its near side from the left and never
// passes it. It ends at the lowest current with nothing left over, x there, or
// where it is sure that the valley stays above.
func (s *Solver) wakes() (awake bool, at left, err error) {
	w := &s.lull
	amps := 0.0
	s.setDuty(s.lawAsleep())
	if w.known {
		amps = w.amps
		copy(s.x, w.x)
	}
	var near, far left // last points on either side of the valley's floor
	near.slope = math.Inf(-1)
	over := math.Inf(1) // least current seen with too little left over
	for range walkSteps {
		l, err := s.held(amps)
		if err != nil {
			return false, l, err
		}
		var next float64
		switch {
		case l.volts > 0 && l.slope >= 0:
			far = l
			if far.floor(near) > walkSure {
				return true, s.noteSure(near, far), nil
			}
			next = far.meets(near)
		case l.volts > 0:
			near = l
			next = amps - l.volts/l.slope
			copy(s.nearX, s.x)
			next = math.Min(next, amps+math.Max(walkLeast, amps))
			if far.slope > 0 && next >= far.amps {
				if far.floor(near) > walkSure {
					return true, s.noteSure(near, far), nil
				}
				next = far.meets(near)
			}
		default:
			over = math.Min(over, amps)
			next = amps - l.volts/l.slope
			if !(l.slope < 0) || next <= near.amps {
				next = 0.5 * (near.amps + amps)
			}
		}
		if next > over {
			next = 0.5 * (math.Max(near.amps, 0) + over)
		}
		if math.Abs(next-amps) < walkDone {
			floor := l.volts > 0 && far.slope > 0 && far.amps-amps < floorAmps
			s.note(amps, floor)
			return floor, l, nil
		}
		if next > walkTop {
			break
		}
		amps = next
	}
	s.Work.Unresolved++
	return false, left{}, &NoSolution{Node: "field loop", Residual: amps, Rungs: "walk from no field"}
}

// lawAsleep is the duty that the law asks for where it senses nothing.
func (s *Solver) lawAsleep() float64 {
	c := s.ctl
	for i, p := range c.LawParams {
		s.lawP[i] = s.P[p]
	}
	d, _ := c.Law.Duty(0, s.lawP)
	return d
}

// floor is a bound under the valley between two points on either side of its
// floor: where their tangents meet, or the far one's at no current.
func (far left) floor(near left) float64 {
	if math.IsInf(near.slope, -1) {
		return far.at(0)
	}
	return near.at(far.meets(near))
}

// meets is the current at which two tangents meet; from far alone, half way down.
func (far left) meets(near left) float64 {
	if math.IsInf(near.slope, -1) {
		return 0.5 * far.amps
	}
	amps := (far.at(0) - near.at(0)) / (near.slope - far.slope)
	return math.Min(math.Max(amps, near.amps), far.amps)
}

// note keeps where the walk ended for the next.
func (s *Solver) note(amps float64, awake bool) {
	w := &s.lull
	w.x = append(w.x[:0], s.x...)
	w.amps, w.awake, w.known = amps, awake, true
}

// noteSure keeps where a walk that ended awake last looked this side of the valley's
// floor, and returns that: the next one goes on from there, and the machine rises past
// it. Where it looked only beyond, half way down is kept.
func (s *Solver) noteSure(near, far left) left {
	if math.IsInf(near.slope, -1) {
		s.note(far.meets(near), true)
		return far
	}
	s.note(near.amps, true)
	copy(s.lull.x, s.nearX)
	return near
}
