package smooth

import (
	"math"
	"testing"
)

// TestSlopes holds every slope against a central difference, joins included.
func TestSlopes(t *testing.T) {
	fns := map[string]func(float64) (float64, float64){
		"clamp": func(x float64) (float64, float64) { return Clamp(x, 0.3, 0.9, 0.1) },
		"floor": func(x float64) (float64, float64) { return Floor(x, 0.2, 0.05) },
		"rise":  Rise,
		"ramp":  func(x float64) (float64, float64) { return Ramp(x, 0.7) },
	}
	const h = 1e-6
	for name, f := range fns {
		for x := -0.5; x < 1.5; x += 0.0137 {
			a, _ := f(x - h)
			b, _ := f(x + h)
			_, got := f(x)
			// closed form: the difference is off by h² f'''/6, and f''' is
			// under 1e4 here; rounding adds 1e-10.
			if want := (b - a) / (2 * h); math.Abs(got-want) > 1e-8+1e4*h*h {
				t.Errorf("%s at %.4f: slope %.9g, difference %.9g", name, x, got, want)
			}
		}
	}
}

// closed form: inside the limits a clamp changes nothing.
func TestClampLeavesTheInside(t *testing.T) {
	if y, s := Clamp(0.5, 0, 1, 0.1); y != 0.5 || s != 1 {
		t.Errorf("clamp moved 0.5 to %g with slope %g", y, s)
	}
	if y, _ := Clamp(9, 0, 1, 0.1); y > 1.1 || y < 1 {
		t.Errorf("clamp let 9 go to %g, at most 1.1", y)
	}
}
