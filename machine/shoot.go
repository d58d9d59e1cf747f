package machine

import "math"

// shooter looks for the phase currents that a period returns to themselves:
// a root of r(x) = P(x) - x with x the currents of phases A and B.
//
// It takes Newton steps with the sensitivities that the integration carries, as
// long as each halves the miss. They are exact where diodes go out, but where a
// current swings through zero from one diode to the other a fixed step either
// catches the instant or does not, and the true slope is only the average. Then
// it goes on with Broyden's secant updates, which see the average, starting from
// the plain map. [closed form: Aprille and Trick, Proc. IEEE 60 (1972);
// Broyden, Math. Comp. 19 (1965)]
type shooter struct {
	secant   bool
	j        [2][2]float64 // d r / d x, estimated
	x, r     [2]float64    // the last point
	best     [2]float64    // the best point so far and its r
	bestR    [2]float64
	bestMiss float64
	lastMiss float64
}

// next returns where to start the next period after one that led from start to
// end with the given miss and sensitivities.
func (s *shooter) next(start, end *[3]float64, miss float64, sens *[3][2]float64) [3]float64 {
	x := [2]float64{start[0], start[1]}
	r := [2]float64{end[0] - start[0], end[1] - start[1]}
	first := s.lastMiss == 0
	better := first || miss < s.bestMiss
	switch {
	case !s.secant && (first || miss < 0.5*s.lastMiss):
		s.j = [2][2]float64{{sens[0][0] - 1, sens[0][1]}, {sens[1][0], sens[1][1] - 1}}
	case !s.secant:
		s.secant = true
		if !better {
			x, r = s.best, s.bestR
		}
		s.j = [2][2]float64{{-1, 0}, {0, -1}}
	case miss > 2*s.bestMiss:
		x, r = s.best, s.bestR
		s.j = [2][2]float64{{-1, 0}, {0, -1}}
		s.bestMiss = math.Inf(1) // take what the plain map gives
	default:
		s.update(x, r)
	}
	if better {
		s.best, s.bestR, s.bestMiss = x, r, miss
	}
	s.x, s.r, s.lastMiss = x, r, miss
	det := s.j[0][0]*s.j[1][1] - s.j[0][1]*s.j[1][0]
	if math.Abs(det) < 1e-9 {
		return *end
	}
	x[0] -= (s.j[1][1]*r[0] - s.j[0][1]*r[1]) / det
	x[1] -= (s.j[0][0]*r[1] - s.j[1][0]*r[0]) / det
	return [3]float64{x[0], x[1], -x[0] - x[1]}
}

// update is Broyden's rank-one correction of j from the last point to this one.
func (s *shooter) update(x, r [2]float64) {
	dx := [2]float64{x[0] - s.x[0], x[1] - s.x[1]}
	square := dx[0]*dx[0] + dx[1]*dx[1]
	if square == 0 {
		return
	}
	for k := range 2 {
		e := (r[k] - s.r[k] - s.j[k][0]*dx[0] - s.j[k][1]*dx[1]) / square
		s.j[k][0] += e * dx[0]
		s.j[k][1] += e * dx[1]
	}
}
