package fit

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// least is a least-squares problem: the z between lo and hi for which half the
// sum of squares of the residuals is smallest.
//
// gonum has no least squares and no bounds, hence this one: Levenberg's damping
// scaled by the columns as Marquardt does it, the damping moved as Nielsen does
// it (1999), and a step that is cut off at the bounds with the figures that
// would leave them held (Levenberg 1944, Marquardt 1963: textbook).
type least struct {
	m      int                  // residuals
	lo, hi []float64            // as many as there are unknowns
	resid  func(z, r []float64) // writes m residuals; finite within the bounds
	step   []float64            // of the differences for the Jacobian
}

// end is where the search ended.
type end struct {
	z     []float64
	cost  float64 // half the sum of squares
	steps int     // steps tried
}

// The optimiser's own small print.
const (
	mostSteps  = 400
	smallSlope = 1e-9  // of the free gradient's largest element, against the cost
	smallStep  = 1e-12 // of the step, against the point
)

// solve searches from start. The error says that the search did not come to
// rest; the end is the best point seen all the same.
func (p *least) solve(start []float64) (end, error) {
	n := len(p.lo)
	s := &search{p: p, r: make([]float64, p.m), next: make([]float64, p.m), grad: make([]float64, n), j: mat.NewDense(p.m, n, nil)}
	s.z = make([]float64, n)
	for i := range s.z {
		s.z[i] = min(max(start[i], p.lo[i]), p.hi[i])
	}
	s.cost = p.cost(s.z, s.r)
	if math.IsNaN(s.cost) || math.IsInf(s.cost, 0) {
		return end{s.z, s.cost, 0}, errors.New("the model has no finite answer at the start")
	}
	damping, grow := 1e-3, 2.0
	fresh := true
	for steps := 1; steps <= mostSteps; steps++ {
		if fresh {
			s.slope()
			if s.flat() {
				return end{s.z, s.cost, steps}, nil
			}
		}
		to, gain, moved := s.try(damping)
		if moved <= smallStep {
			return end{s.z, s.cost, steps}, nil
		}
		cost := p.cost(to, s.next)
		if ratio := (s.cost - cost) / gain; gain > 0 && ratio > 1e-4 {
			s.z, s.cost = to, cost
			s.r, s.next = s.next, s.r
			damping *= max(1.0/3, 1-math.Pow(2*ratio-1, 3))
			damping, grow, fresh = max(damping, 1e-15), 2, true
			continue
		}
		damping *= grow
		grow, fresh = 2*grow, false
		if damping > 1e16 {
			// No step downhill is left that rounding would not swallow.
			return end{s.z, s.cost, steps}, nil
		}
	}
	return end{s.z, s.cost, mostSteps}, errors.New("the search did not come to rest")
}

// cost writes the residuals at z and returns half their sum of squares.
func (p *least) cost(z, r []float64) float64 {
	p.resid(z, r)
	sum := 0.0
	for _, x := range r {
		sum += x * x
	}
	return sum / 2
}

// jacobian writes d r/d z by central differences. At a bound the difference
// reaches a step beyond it: the models are smooth there.
func (p *least) jacobian(z []float64, j *mat.Dense) {
	up, down := make([]float64, p.m), make([]float64, p.m)
	at := append([]float64(nil), z...)
	for k := range z {
		h := p.step[k]
		at[k] = z[k] + h
		p.resid(at, up)
		at[k] = z[k] - h
		p.resid(at, down)
		at[k] = z[k]
		for i := range up {
			j.Set(i, k, (up[i]-down[i])/(2*h))
		}
	}
}

// search is the state of one solve.
type search struct {
	p       *least
	z       []float64
	r, next []float64
	cost    float64
	j       *mat.Dense
	grad    []float64
	free    []int // unknowns that a step downhill does not push out of bounds
}

// slope takes the Jacobian and the gradient where the search stands.
func (s *search) slope() {
	s.p.jacobian(s.z, s.j)
	s.free = s.free[:0]
	for k := range s.z {
		s.grad[k] = 0
		for i, r := range s.r {
			s.grad[k] += s.j.At(i, k) * r
		}
		atLo, atHi := s.z[k] <= s.p.lo[k] && s.grad[k] > 0, s.z[k] >= s.p.hi[k] && s.grad[k] < 0
		if !atLo && !atHi {
			s.free = append(s.free, k)
		}
	}
}

// column is the length of a column of the Jacobian.
func (s *search) column(k int) float64 {
	sum := 0.0
	for i := range s.r {
		sum += s.j.At(i, k) * s.j.At(i, k)
	}
	return math.Sqrt(sum)
}

// flat says that no free unknown moves the cost: the cosine between residuals
// and every column is small.
func (s *search) flat() bool {
	size := math.Sqrt(2 * s.cost)
	for _, k := range s.free {
		if math.Abs(s.grad[k]) > smallSlope*(s.column(k)*size+1e-300) {
			return false
		}
	}
	return true
}

// try returns a damped step, how much the linear model says it gains, and the
// length of its longest element against the point.
func (s *search) try(damping float64) (to []float64, gain, moved float64) {
	n := len(s.free)
	if n == 0 {
		return s.z, 0, 0
	}
	// The damped step is the least-squares solution of the Jacobian with the
	// damping's rows below it: QR, because the normal equations would square
	// the condition.
	a, b := mat.NewDense(s.p.m+n, n, nil), mat.NewVecDense(s.p.m+n, nil)
	for c, k := range s.free {
		for i := range s.r {
			a.Set(i, c, s.j.At(i, k))
		}
		a.Set(s.p.m+c, c, math.Sqrt(damping)*max(s.column(k), 1e-30))
	}
	for i, r := range s.r {
		b.SetVec(i, -r)
	}
	var qr mat.QR
	qr.Factorize(a)
	var d mat.VecDense
	// A badly conditioned system still gives a step; whether it is any good
	// shows when it is tried.
	if err := qr.SolveVecTo(&d, false, b); err != nil && d.Len() != n {
		return s.z, 0, 0
	}
	to = append([]float64(nil), s.z...)
	for c, k := range s.free {
		to[k] = min(max(s.z[k]+d.AtVec(c), s.p.lo[k]), s.p.hi[k])
		moved = max(moved, math.Abs(to[k]-s.z[k])/max(math.Abs(s.z[k]), s.p.step[k]))
	}
	for i, r := range s.r {
		lin := r
		for _, k := range s.free {
			lin += s.j.At(i, k) * (to[k] - s.z[k])
		}
		gain += (r*r - lin*lin) / 2
	}
	return to, gain, moved
}
