package circuit

import (
	"math"
	"testing"
)

// TestDiodeAgainstShockley: whatever side of the corner the unknown is on, a
// point that satisfies the device's own equation lies on Shockley's curve, and
// every derivative is that of a central difference.
func TestDiodeAgainstShockley(t *testing.T) {
	for _, p := range [][]float64{{5e-9, 0.0388, 0.005}, {1e-12, 0.026, 0.5}, {2, 0.05, 0.01}} {
		for w := -0.6; w < 3; w += 0.0437 {
			j := junctionAt(w, p[0], p[1])
			// closed form: Shockley's law at the junction's own voltage.
			want := p[0] * math.Expm1(j.v/p[1])
			near(t, "junction current", "Shockley's law", j.i, want, 1e-9*(math.Abs(want)+p[0]))
			x := []float64{w + 0.3, 0.1, w}
			diodeSlopes(t, x, p)
		}
	}
}

// diodeSlopes compares Stamp's Jacobian and Grad with central differences.
func diodeSlopes(t *testing.T, x, p []float64) {
	t.Helper()
	var d Diode
	jac, grad := make([]float64, 9), make([]float64, 9)
	d.Stamp(x, p, make([]float64, 3), jac)
	d.Grad(x, p, grad)
	at := func(v []float64, k int, h float64, row int) float64 {
		keep := v[k]
		v[k] += h
		f := make([]float64, 3)
		d.Stamp(x, p, f, make([]float64, 9))
		v[k] = keep
		return f[row]
	}
	for row := range 3 {
		for k := range 3 {
			for _, c := range []struct {
				v    []float64
				got  float64
				step float64
			}{{x, jac[row*3+k], 1e-6}, {p, grad[row*3+k], 1e-5 * p[k]}} {
				num := (at(c.v, k, c.step, row) - at(c.v, k, -c.step, row)) / (2 * c.step)
				// The difference is off by h² f'''/6, f''' up to f'/n² (n = 26 mV),
				// and at the corner by h f''; rounding of 1e3 A leaves 1e-13/h.
				tol := 1e-4*math.Abs(num) + 1e-13*(1e3+math.Abs(num))/c.step + 1e-6
				near(t, "slope of the diode", "central difference", c.got, num, tol)
			}
		}
	}
}
