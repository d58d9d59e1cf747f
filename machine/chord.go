package machine

import "math"

// chord looks for the winding currents that a period returns to themselves, as
// shooter does, with all three currents free: round a delta, and where a star
// point has diodes, they do not sum to zero.
type chord struct {
	secant   bool
	j        [3][3]float64 // d(end - start)/d(start), estimated
	x, r     [3]float64    // the last point
	best     [3]float64    // the best point so far and its r
	bestR    [3]float64
	bestMiss float64
	lastMiss float64
}

// minusOne is the slope of the plain map.
var minusOne = [3][3]float64{{-1, 0, 0}, {0, -1, 0}, {0, 0, -1}}

// next returns where to start the next period after one that led from start to
// end with the given miss and sensitivities.
func (s *chord) next(start, end *[3]float64, miss float64, sens *[3][3]float64) [3]float64 {
	x := *start
	var r [3]float64
	for k := range r {
		r[k] = end[k] - start[k]
	}
	first := s.lastMiss == 0
	better := first || miss < s.bestMiss
	switch {
	case !s.secant && (first || miss < 0.5*s.lastMiss):
		s.j = *sens
		for k := range 3 {
			s.j[k][k]--
		}
	case !s.secant:
		s.secant = true
		if !better {
			x, r = s.best, s.bestR
		}
		s.j = minusOne
	case miss > 2*s.bestMiss:
		x, r = s.best, s.bestR
		s.j = minusOne
		s.bestMiss = math.Inf(1) // take what the plain map gives
	default:
		s.update(&x, &r)
	}
	if better {
		s.best, s.bestR, s.bestMiss = x, r, miss
	}
	s.x, s.r, s.lastMiss = x, r, miss
	inv := inverse3(&s.j)
	for k := range 3 {
		d := inv[k][0]*r[0] + inv[k][1]*r[1] + inv[k][2]*r[2]
		if math.IsNaN(d) || math.IsInf(d, 0) {
			return *end
		}
		x[k] -= d
	}
	return x
}

// update is Broyden's rank-one correction of j from the last point to this one.
func (s *chord) update(x, r *[3]float64) {
	var dx [3]float64
	square := 0.0
	for k := range dx {
		dx[k] = x[k] - s.x[k]
		square += dx[k] * dx[k]
	}
	if square == 0 {
		return
	}
	for k := range 3 {
		e := r[k] - s.r[k]
		for j := range 3 {
			e -= s.j[k][j] * dx[j]
		}
		for j := range 3 {
			s.j[k][j] += e / square * dx[j]
		}
	}
}
