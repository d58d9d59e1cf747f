package prediction

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Against central differences, from reverse to hundreds of amperes.
func TestSplitterDerivatives(t *testing.T) {
	d := splitter{1.7}
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		x := []float64{draw("plate", 11, 15), draw("one", 10, 14.5), draw("two", 10, 14.5), draw("first unknown", -5, 40), draw("second unknown", -5, 40)}
		p := []float64{draw("drop", 0.3, 0.9)}
		at := func() []float64 {
			f := make([]float64, splitterSize)
			d.Stamp(x, p, f, make([]float64, splitterSize*splitterSize))
			return f
		}
		jac, dfdp := make([]float64, splitterSize*splitterSize), make([]float64, splitterSize)
		d.Stamp(x, p, make([]float64, splitterSize), jac)
		d.Grad(x, p, dfdp)
		same := func(what string, list []float64, k int, got func(row int) float64) {
			const step = 1e-6
			old := list[k]
			list[k] = old + step
			up := at()
			list[k] = old - step
			down := at()
			list[k] = old
			for row := range up {
				want := (up[row] - down[row]) / (2 * step)
				// rounding of the difference over the step; at the bend the mean of two slopes
				if tol := 1e-4*math.Abs(want) + 1e-12*math.Abs(up[row])/step + 1e-6; math.Abs(got(row)-want) > tol {
					t.Fatalf("row %d by %s %d: closed form %v, central difference %v", row, what, k, got(row), want)
				}
			}
		}
		for k := range x {
			same("unknown", x, k, func(row int) float64 { return jac[row*splitterSize+k] })
		}
		same("drop", p, 0, func(row int) float64 { return dfdp[row] })
	})
}

// TestSplitterDrop: its drop at 10 A is what it is said to be, and from 2 to 22 A it
// moves by n kT/q ln 11, whatever it is.
func TestSplitterDrop(t *testing.T) {
	d := splitter{1.7}
	drop := func(amps float64) float64 {
		lo, hi := 0.0, 10.0
		for range 60 {
			mid := 0.5 * (lo + hi)
			if i, _, _ := d.diode(mid, 0.73); i < amps {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo - splitterRun*amps
	}
	// Source: closed form: as given, and n kT/q ln 11 with kT/q at 300.15 K from CODATA 2018.
	if got := drop(10); math.Abs(got-0.73) > 1e-6 {
		t.Errorf("%v V at 10 A", got)
	}
	if got, want := drop(22)-drop(2), 1.7*0.0258649*math.Log(11); math.Abs(got-want) > 1e-5 {
		t.Errorf("22 A over 2 A: %v V, want %v", got, want)
	}
	if i, _, _ := d.diode(-1, 0.73); i > 0 || i < -1e-5 {
		t.Errorf("%v A backwards at 1 V", i)
	}
}
