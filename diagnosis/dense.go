package diagnosis

import "math"

// dot is the inner product; what only one of them has counts as nothing.
func dot(a, b []float64) float64 {
	n := min(len(a), len(b))
	a, b = a[:n], b[:n]
	var p, q, r, s float64 // sums that need not wait for one another
	i := 0
	for ; i < len(a)-3 && i < len(b)-3; i += 4 {
		p += a[i] * b[i]
		q += a[i+1] * b[i+1]
		r += a[i+2] * b[i+2]
		s += a[i+3] * b[i+3]
	}
	for ; i < len(a) && i < len(b); i++ {
		p += a[i] * b[i]
	}
	return p + q + (r + s)
}

// cholesky factors the lower triangle of an n by n matrix in place.
func cholesky(m []float64, n int) bool {
	for i := range n {
		for k := 0; k <= i; k++ {
			s := m[i*n+k]
			for q := range k {
				s -= m[i*n+q] * m[k*n+q]
			}
			if i == k {
				if !(s > 0) {
					return false
				}
				m[i*n+i] = math.Sqrt(s)
			} else {
				m[i*n+k] = s / m[k*n+k]
			}
		}
	}
	return true
}

// cholSolve replaces b by the solution of L Lᵀ x = b; a shorter b takes the leading
// block of L, whose rows are n long.
func cholSolve(m []float64, n int, b []float64) {
	for i := range b {
		s := b[i]
		for k := range i {
			s -= m[i*n+k] * b[k]
		}
		b[i] = s / m[i*n+i]
	}
	for i := len(b) - 1; i >= 0; i-- {
		s := b[i]
		for k := i + 1; k < len(b); k++ {
			s -= m[k*n+i] * b[k]
		}
		b[i] = s / m[i*n+i]
	}
}

// cholInverseDiag returns the diagonal of the inverse.
func cholInverseDiag(m []float64, n int) []float64 {
	d := make([]float64, n)
	x := make([]float64, n)
	for k := range n {
		clear(x)
		x[k] = 1
		for i := k; i < n; i++ {
			s := x[i]
			for q := k; q < i; q++ {
				s -= m[i*n+q] * x[q]
			}
			x[i] = s / m[i*n+i]
			d[k] += x[i] * x[i]
		}
	}
	return d
}

// logSumExp adds probabilities given as logarithms.
func logSumExp(v []float64) float64 {
	top := math.Inf(-1)
	for _, x := range v {
		top = math.Max(top, x)
	}
	if math.IsInf(top, -1) {
		return top
	}
	s := 0.0
	for _, x := range v {
		s += math.Exp(x - top)
	}
	return top + math.Log(s)
}
