package prediction

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"chargewright/circuit"
)

// Against central differences, everywhere a solver may look.
func TestRelayDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		x := []float64{draw("coil", -5, 30), draw("coil-", -1, 1), draw("in", 0, 30), draw("out", 0, 30)}
		p := []float64{draw("winding", 20, 500), draw("contacts", 1e-3, 10), draw("opens", 2, 6), draw("closes", 6.2, 20)}
		at := func() []float64 {
			f := make([]float64, 4)
			relay{}.Stamp(x, p, f, make([]float64, 16))
			return f
		}
		jac, dfdp := make([]float64, 16), make([]float64, 16)
		relay{}.Stamp(x, p, make([]float64, 4), jac)
		relay{}.Grad(x, p, dfdp)
		same := func(what string, list []float64, k int, step float64, got func(row int) float64) {
			old := list[k]
			list[k] = old + step
			up := at()
			list[k] = old - step
			down := at()
			list[k] = old
			for row := range up {
				want := (up[row] - down[row]) / (2 * step)
				// rounding of the difference over the step, and the curvature of the rise
				if tol := 2e-4*(math.Abs(want)+math.Abs(got(row))) + 1e-3 + 1e-12*math.Abs(up[row])/step; math.Abs(got(row)-want) > tol {
					t.Fatalf("row %d by %s %d: closed form %v, central difference %v", row, what, k, got(row), want)
				}
			}
		}
		for k := range x {
			same("unknown", x, k, 1e-6, func(row int) float64 { return jac[row*4+k] })
		}
		for k := range p {
			same("parameter", p, k, 1e-6*p[k], func(row int) float64 { return dfdp[row*4+k] })
		}
	})
}

// A relay between two batteries: open it keeps them apart, closed it joins them by
// its contacts, and one coil end in the air opens it.
func TestRelayJoins(t *testing.T) {
	for _, c := range []struct {
		name        string
		coil, earth float64
		want        float64
	}{
		{"no coil volts", 2, 1e-3, 12},
		{"coil at 13 V", 13, 1e-3, 12 + 2*0.5/(0.5+0.01+0.1)},
		{"coil at 13 V, its earth 1 kOhm", 13, 1000, 12},
	} {
		net := circuit.New("earth")
		node := net.Node
		earth := node("earth")
		emf := func(name, plus string) circuit.Param {
			first, _, err := net.Add(name, circuit.EMF{}, node(plus), earth)
			if err != nil {
				t.Fatal(err)
			}
			return first
		}
		bus, second, coil := emf("bus", "bus"), emf("second", "second"), emf("coil", "coil")
		ground := net.Resistor("coil earth", node("coil-earth"), earth)
		first, _, err := net.Add("relay", relay{}, node("coil"), node("coil-earth"), node("bus"), node("second"))
		if err != nil {
			t.Fatal(err)
		}
		compiled, err := net.Compile()
		if err != nil {
			t.Fatal(err)
		}
		p := make([]float64, net.Params())
		p[bus], p[bus+1] = 14, 0.1
		p[second], p[second+1] = 12, 0.5
		p[coil], p[coil+1] = c.coil, 1e-3
		p[ground] = c.earth
		copy(p[first:], []float64{relayCoilOhms: 80, relayContactOhms: 0.01, relayOpens: 5, relayCloses: 8})
		s := compiled.NewSolver()
		s.Start(make([]float64, compiled.Unknowns()))
		if err := s.Solve(p); err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		// closed form: two sources with 0.1 and 0.5 Ohm, joined by 10 mOhm or not at
		// all; the 0.1 uS to earth that every node has moves less than 10 uV.
		if got := s.V(node("second"), earth); math.Abs(got-c.want) > 1e-5 {
			t.Errorf("%s: %v V, want %v", c.name, got, c.want)
		}
	}
}
