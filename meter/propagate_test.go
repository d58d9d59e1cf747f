package meter

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"chargewright/internal/near"
)

// JCGM 100:2008 H.2: resistance, reactance and impedance from five sets of
// volts, amps and phase taken together.
func TestImpedance(t *testing.T) {
	const source = "table: JCGM 100:2008 Tables H.2 to H.4, printed to three figures; more digits computed from the same data"
	v := []float64{5.007, 4.994, 5.005, 4.990, 4.999}
	i := []float64{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}
	phi := []float64{1.0456, 1.0438, 1.0468, 1.0428, 1.0433}
	mean, cov, err := Means(v, i, phi)
	if err != nil {
		t.Fatal(err)
	}
	digits := near.Tol{Rel: 5e-8} // eight figures are given below
	near.Check(t, "V", mean[0], 4.9990, near.Tol{Abs: 1e-9}, source)
	near.Check(t, "I", mean[1], 19.6610e-3, near.Tol{Abs: 1e-9}, source)
	near.Check(t, "phi", mean[2], 1.04446, near.Tol{Abs: 1e-9}, source)
	near.Check(t, "u(V)", math.Sqrt(cov[0][0]), 0.0032093613, digits, source)
	near.Check(t, "u(I)", math.Sqrt(cov[1][1]), 9.4710084e-6, digits, source)
	near.Check(t, "u(phi)", math.Sqrt(cov[2][2]), 0.00075206383, digits, source)
	six := near.Tol{Abs: 6e-7}
	near.Check(t, "r(V,I)", corr(cov, 0, 1), -0.355311, six, source)
	near.Check(t, "r(V,phi)", corr(cov, 0, 2), 0.857624, six, source)
	near.Check(t, "r(I,phi)", corr(cov, 1, 2), -0.645111, six, source)

	z, c, s := mean[0]/mean[1], math.Cos(mean[2]), math.Sin(mean[2])
	near.Check(t, "R", z*c, 127.732169928, digits, source)
	near.Check(t, "X", z*s, 219.846511913, digits, source)
	near.Check(t, "Z", z, 254.259701948, digits, source)
	jac := [][]float64{
		{c / mean[1], -z * c / mean[1], -z * s},
		{s / mean[1], -z * s / mean[1], z * c},
		{1 / mean[1], -z / mean[1], 0},
	}
	out, err := PropagateAll(jac, cov)
	if err != nil {
		t.Fatal(err)
	}
	alone := [][]float64{{cov[0][0], 0, 0}, {0, cov[1][1], 0}, {0, 0, cov[2][2]}}
	for k, want := range []struct{ u, ignored float64 }{{0.0710714074, 0.1945444545}, {0.2955816774, 0.2009093059}, {0.2363361301, 0.2040764254}} {
		near.Check(t, "u", math.Sqrt(out[k][k]), want.u, digits, source)
		wrong, err := Propagate(jac[k], alone)
		if err != nil {
			t.Fatal(err)
		}
		near.Check(t, "u without correlation", wrong, want.ignored, digits, "closed form: the same with the off-diagonal left out")
		if math.Abs(wrong/want.u-1) < 0.1 {
			t.Errorf("quantity %d: leaving the correlation out changes nothing", k)
		}
	}
	near.Check(t, "r(R,X)", corr(out, 0, 1), -0.588430, six, source)
	near.Check(t, "r(R,Z)", corr(out, 0, 2), -0.485259, six, source)
	near.Check(t, "r(X,Z)", corr(out, 1, 2), 0.992512, six, source)
}

func corr(c [][]float64, i, j int) float64 { return c[i][j] / math.Sqrt(c[i][i]*c[j][j]) }

// JCGM 100:2008 H.1: the end gauge, l = ls + d - ls (dalpha theta + alpha dtheta),
// in nanometres.
func TestEndGauge(t *testing.T) {
	const (
		source = "table: JCGM 100:2008 H.1.4 to H.1.7: prints 32, 16, 93, 34 nm; more digits computed from the same inputs"
		ls, d  = 50.000623e6, 215.0
		theta  = -0.1
		alpha  = 11.5e-6
	)
	ud := math.Sqrt(5.8*5.8 + 3.9*3.9 + 6.7*6.7)
	near.Check(t, "u(d)", ud, 9.68194, near.Tol{Abs: 6e-6}, source)
	ud = 9.7 // the guide goes on with the rounded figure
	nud, err := EffectiveFreedom([]float64{5.8, 3.9, 6.7}, []float64{24, 5, 8})
	if err != nil {
		t.Fatal(err)
	}
	near.Check(t, "nu(d)", nud, 25.6, near.Tol{Abs: 0.2}, source) // printed from rounded parts
	near.Check(t, "l", (ls+d)/1e6, 50.000838, near.Tol{Abs: 5e-7}, source)

	// Inputs: ls, d, dalpha, theta, alpha, dtheta.
	u := []float64{25, ud, 0.58e-6, 0.41, 1.2e-6, 0.029}
	grad := []float64{1, 1, -ls * theta, 0, 0, -ls * alpha}
	cov := make([][]float64, len(u))
	hess := make([][]float64, len(u))
	for i := range u {
		cov[i], hess[i] = make([]float64, len(u)), make([]float64, len(u))
		cov[i][i] = u[i] * u[i]
	}
	uc, err := Propagate(grad, cov)
	if err != nil {
		t.Fatal(err)
	}
	near.Check(t, "u_c", uc, 31.71061, near.Tol{Abs: 2e-5}, source)
	near.Check(t, "part of dalpha", grad[2]*u[2], 2.90, near.Tol{Abs: 0.005}, source)
	near.Check(t, "part of dtheta", -grad[5]*u[5], 16.6752, near.Tol{Abs: 6e-4}, source)
	nu, err := EffectiveFreedom([]float64{25, ud, 2.9, 16.675}, []float64{18, 25.6, 50, 2})
	if err != nil {
		t.Fatal(err)
	}
	near.Check(t, "nu_eff", nu, 16.656, near.Tol{Abs: 0.01}, source)
	t99 := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: math.Floor(nu)}.Quantile(0.995)
	near.Check(t, "U99", t99*uc, 92.59, near.Tol{Abs: 0.1}, source) // printed with k rounded to 2.92

	hess[2][3], hess[3][2] = -ls, -ls
	hess[4][5], hess[5][4] = -ls, -ls
	second, err := PropagateSecond(grad, hess, u)
	if err != nil {
		t.Fatal(err)
	}
	near.Check(t, "second order", second, 33.91115, near.Tol{Abs: 2e-5}, source)
}

func TestPropagateRefuses(t *testing.T) {
	one := [][]float64{{1}}
	if _, err := Propagate([]float64{1, 2}, one); err == nil {
		t.Error("lengths that do not match were taken")
	}
	if _, err := Propagate([]float64{1, 1}, [][]float64{{1, 0}, {0}}); err == nil {
		t.Error("a ragged covariance was taken")
	}
	if _, err := Propagate([]float64{math.NaN()}, one); err == nil {
		t.Error("NaN was taken")
	}
	if _, err := Propagate([]float64{1, 1}, [][]float64{{1, -2}, {-2, 1}}); err == nil {
		t.Error("a correlation of -2 was taken")
	}
	u, err := Propagate([]float64{1, 1}, [][]float64{{1, -1}, {-1, 1}})
	if err != nil || u != 0 {
		t.Errorf("a sum of opposites: %v, %v", u, err)
	}
	if _, _, err := Means([]float64{1}); err == nil {
		t.Error("the scatter of one reading was given")
	}
	if _, _, err := Means([]float64{1, 2}, []float64{1}); err == nil {
		t.Error("series that do not pair were taken")
	}
	if _, err := EffectiveFreedom([]float64{1}, []float64{0}); err == nil {
		t.Error("no freedom was taken")
	}
	if _, err := PropagateSecond([]float64{1}, nil, []float64{1}); err == nil {
		t.Error("missing second derivatives were taken")
	}
	if nu, err := EffectiveFreedom([]float64{1}, []float64{math.Inf(1)}); err != nil || !math.IsInf(nu, 1) {
		t.Errorf("an exact part: %v, %v", nu, err)
	}
}
