package meter

import (
	"fmt"
	"math"
)

// Propagate returns the standard uncertainty of a quantity from the gradient of
// its formula and the covariance of the inputs, u^2 = c' V c. Correlations stand
// in the covariance: leaving them out is wrong as soon as inputs were read
// together. Source: JCGM 100:2008 (13) and (16).
func Propagate(gradient []float64, covariance [][]float64) (float64, error) {
	out, err := PropagateAll([][]float64{gradient}, covariance)
	if err != nil {
		return 0, err
	}
	return math.Sqrt(out[0][0]), nil
}

// PropagateAll returns the covariance of several quantities, J V J', from the
// rows of derivatives of their formulas. Source: JCGM 100:2008 H.2.3 (H.9).
func PropagateAll(jacobian, covariance [][]float64) ([][]float64, error) {
	n := len(covariance)
	for i, row := range covariance {
		if len(row) != n {
			return nil, fmt.Errorf("row %d of the covariance has %d numbers: it needs %d", i+1, len(row), n)
		}
	}
	for i, row := range jacobian {
		if len(row) != n {
			return nil, fmt.Errorf("gradient %d has %d numbers for %d inputs: give one derivative for each input", i+1, len(row), n)
		}
	}
	out := make([][]float64, len(jacobian))
	for i, a := range jacobian {
		out[i] = make([]float64, len(jacobian))
		for j, b := range jacobian {
			sum := 0.0
			for k := range n {
				for l := range n {
					sum += a[k] * covariance[k][l] * b[l]
				}
			}
			if math.IsNaN(sum) || math.IsInf(sum, 0) {
				return nil, fmt.Errorf("gradient or covariance holds a number that is not finite: see input values")
			}
			if i == j && sum < 0 {
				if sum < -1e-9*size(a, covariance) {
					return nil, fmt.Errorf("the covariance gives a negative variance: a correlation is beyond -1 or 1")
				}
				sum = 0 // rounding of a difference that is zero
			}
			out[i][j] = sum
		}
	}
	return out, nil
}

// size is the sum of the absolute terms, against which rounding is judged.
func size(a []float64, v [][]float64) float64 {
	sum := 0.0
	for k := range a {
		for l := range a {
			sum += math.Abs(a[k] * v[k][l] * a[l])
		}
	}
	return sum
}

// PropagateSecond adds the second-order terms of independent inputs,
// 1/2 sum (d2f/dxi dxj)^2 ui^2 uj^2, for formulas whose third derivatives are
// nothing (products of two inputs). u holds the standard uncertainties. Source:
// JCGM 100:2008 5.1.2 note.
func PropagateSecond(gradient []float64, hessian [][]float64, u []float64) (float64, error) {
	if len(gradient) != len(u) || len(hessian) != len(u) {
		return 0, fmt.Errorf("gradient, second derivatives and uncertainties must be of one length")
	}
	sum := 0.0
	for i := range u {
		if len(hessian[i]) != len(u) {
			return 0, fmt.Errorf("row %d of the second derivatives has %d numbers: it needs %d", i+1, len(hessian[i]), len(u))
		}
		sum += gradient[i] * gradient[i] * u[i] * u[i]
		for j := range u {
			h := hessian[i][j] * u[i] * u[j]
			sum += h * h / 2
		}
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		return 0, fmt.Errorf("derivatives or uncertainties hold a number that is not finite: see input values")
	}
	return math.Sqrt(sum), nil
}

// Means returns the means of series taken together and the covariance of the
// means (each sum of products over n(n-1)). Source: JCGM 100:2008 (3), (5), (17).
func Means(series ...[]float64) (mean []float64, covariance [][]float64, err error) {
	if len(series) == 0 || len(series[0]) < 2 {
		return nil, nil, fmt.Errorf("the scatter needs at least two readings: repeat the measurement")
	}
	n := len(series[0])
	mean = make([]float64, len(series))
	for i, s := range series {
		if len(s) != n {
			return nil, nil, fmt.Errorf("series %d has %d readings and the first has %d: readings taken together must pair", i+1, len(s), n)
		}
		for _, x := range s {
			mean[i] += x / float64(n)
		}
	}
	covariance = make([][]float64, len(series))
	for i := range series {
		covariance[i] = make([]float64, len(series))
		for j := range series {
			for k := range n {
				covariance[i][j] += (series[i][k] - mean[i]) * (series[j][k] - mean[j]) / float64(n*(n-1))
			}
		}
	}
	return mean, covariance, nil
}

// EffectiveFreedom is the Welch-Satterthwaite degrees of freedom of a sum of
// independent parts with standard uncertainties u and degrees of freedom nu
// (+Inf for an exact one). +Inf if no part limits it. Source: JCGM 100:2008 G.4.
func EffectiveFreedom(u, nu []float64) (float64, error) {
	if len(u) != len(nu) {
		return 0, fmt.Errorf("%d uncertainties and %d degrees of freedom: give one for each", len(u), len(nu))
	}
	variance, weight := 0.0, 0.0
	for i := range u {
		if !(nu[i] > 0) || math.IsNaN(u[i]) {
			return 0, fmt.Errorf("part %d: degrees of freedom must be above zero", i+1)
		}
		variance += u[i] * u[i]
		weight += u[i] * u[i] * u[i] * u[i] / nu[i]
	}
	if weight == 0 {
		return math.Inf(1), nil
	}
	return variance * variance / weight, nil
}
