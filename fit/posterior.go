package fit

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// gram is J'J.
func gram(j *mat.Dense) *mat.SymDense {
	_, n := j.Dims()
	out := mat.NewSymDense(n, nil)
	out.SymOuterK(1, j.T())
	return out
}

// inverse of a positive definite matrix, scaled to a unit diagonal first: the
// unknowns may differ by many powers of ten.
func inverse(a *mat.SymDense) (*mat.SymDense, error) {
	n := a.SymmetricDim()
	scale := make([]float64, n)
	s := mat.NewSymDense(n, nil)
	for i := range n {
		if a.At(i, i) <= 0 {
			return nil, errors.New("an unknown moves nothing")
		}
		scale[i] = 1 / math.Sqrt(a.At(i, i))
	}
	for i := range n {
		for k := i; k < n; k++ {
			s.SetSym(i, k, a.At(i, k)*scale[i]*scale[k])
		}
	}
	var c mat.Cholesky
	if !c.Factorize(s) {
		return nil, errors.New("the unknowns cannot be told apart")
	}
	out := mat.NewSymDense(n, nil)
	if err := c.InverseTo(out); err != nil {
		return nil, err
	}
	for i := range n {
		for k := i; k < n; k++ {
			out.SetSym(i, k, out.At(i, k)*scale[i]*scale[k])
		}
	}
	return out, nil
}
