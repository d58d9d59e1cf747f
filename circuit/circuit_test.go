package circuit

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

func near(t *testing.T, what, source string, got, want, tol float64) {
	t.Helper()
	if source == "" {
		t.Fatalf("%s: no source for the expected value", what)
	}
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.12g, want %.12g within %g (%s)", what, got, want, tol, source)
	}
}

func TestDivider(t *testing.T) {
	n := New("0")
	a, b := n.Node("a"), n.Node("b")
	e, _, _ := n.Add("source", EMF{}, a, 0)
	r1 := n.Resistor("r1", a, b)
	r2 := n.Resistor("r2", b, 0)
	c, err := n.Compile()
	if err != nil {
		t.Fatal(err)
	}
	s := c.NewSolver()
	p := make([]float64, n.Params())
	p[e], p[e+1], p[r1], p[r2] = 12, 0.01, 2, 4
	if err := s.Solve(p); err != nil {
		t.Fatal(err)
	}
	// The leak of 1e-7 S moves 8 V by less than 2e-7 of it.
	near(t, "middle of a divider", "closed form: 12*4/(0.01+2+4)", s.V(b, 0), 12*4/6.01, 3e-6)
	grad := make([]float64, n.Params())
	seed := make([]float64, c.Unknowns())
	seed[c.At(b)] = 1
	s.Gradient(seed, grad)
	near(t, "dV/dr2", "closed form: 12*(2.01)/(6.01)^2", grad[r2], 12*2.01/(6.01*6.01), 1e-6)
	near(t, "dV/dE", "closed form: 4/6.01", grad[e], 4/6.01, 1e-6)
}

func TestLooseNodesAreNamed(t *testing.T) {
	n := New("0")
	n.Resistor("r", n.Node("a"), n.Node("b"))
	if _, err := n.Compile(); err == nil || !contains(err.Error(), "a, b") {
		t.Fatalf("loose nodes not named: %v", err)
	}
}

func contains(s, sub string) bool {
	for i := 0; i+len(sub) <= len(s); i++ {
		if s[i:i+len(sub)] == sub {
			return true
		}
	}
	return false
}

// buck is a stand-in for a regulated source: an EMF scaled by duty.
type buck struct{}

func (buck) Size() (terminals, unknowns, params int) { return 2, 0, 3 }

func (buck) Stamp(x, p, f, jac []float64) { // p: duty, volts at full duty, ohms
	g := 1 / p[2]
	i := (x[0] - x[1] - p[0]*p[1]) * g
	f[0], f[1] = i, -i
	jac[0], jac[1], jac[2], jac[3] = g, -g, -g, g
}

func (buck) Grad(x, p, d []float64) {
	g := 1 / p[2]
	d[0], d[1], d[2] = -p[1]*g, -p[0]*g, -(x[0]-x[1]-p[0]*p[1])*g*g
	d[3], d[4], d[5] = -d[0], -d[1], -d[2]
}

// straight is a law that falls linearly, clamped softly.
type straight struct{}

func (straight) Duty(v float64, p []float64) (float64, float64) {
	u := (p[0] - v) / p[1]
	sp := func(x float64) (float64, float64) {
		r := math.Sqrt(x*x + 4e-4)
		return (x + r) / 2, (1 + x/r) / 2
	}
	a, da := sp(u)
	b, db := sp(u - 1)
	return a - b, -(da - db) / p[1]
}

func (l straight) Straight(p []float64) (v, d, slope float64) {
	v = p[0] - p[1]/2
	d, slope = l.Duty(v, p)
	return v, d, slope
}

func (l straight) Grad(v float64, p, out []float64) {
	_, dv := l.Duty(v, p)
	out[0] = -dv
	out[1] = dv * (p[0] - v) / p[1]
}

// ladderNet is a random resistive ladder with two diodes, an EMF and a
// controlled source: enough of everything.
func ladderNet(t *testing.T, rng *rand.Rand) (*Compiled, []float64, []Node) {
	t.Helper()
	n := New("0")
	var p []float64
	set := func(first Param, v ...float64) {
		for len(p) < n.Params() {
			p = append(p, 0)
		}
		copy(p[first:], v)
	}
	var nodes []Node
	for i := range 12 {
		nodes = append(nodes, n.Node(string(rune('a'+i))))
	}
	for i := range nodes[1:] {
		set(n.Resistor("r", nodes[i], nodes[i+1]), math.Exp(rng.NormFloat64()*2-3))
	}
	set(n.Resistor("load", nodes[5], 0), 3+rng.Float64())
	set(n.Resistor("cross", nodes[2], nodes[9]), 1+rng.Float64())
	e, _, _ := n.Add("battery", EMF{}, nodes[11], 0)
	set(e, 12.5, 0.02)
	b, _, _ := n.Add("source", buck{}, nodes[0], 0)
	set(b, 0, 22, 0.5)
	d, _, _ := n.Add("diode", Diode{}, nodes[3], nodes[7])
	set(d, 5e-9, 0.0388, 0.01)
	law := n.Param()
	band := n.Param()
	set(law, 14.2, 0.3)
	n.Control(Control{Param: b, Plus: nodes[6], Minus: 0, Law: straight{}, LawParams: []Param{law, band}})
	c, err := n.Compile()
	if err != nil {
		t.Fatal(err)
	}
	return c, p, nodes
}

// TestAdjointAgainstCentralDifferences holds every derivative of a node voltage
// against a central difference of whole solves, duty search included.
func TestAdjointAgainstCentralDifferences(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	compared := 0
	for range 30 {
		c, p, nodes := ladderNet(t, rng)
		s := c.NewSolver()
		if err := s.Solve(p); err != nil {
			t.Fatal(err)
		}
		grad := make([]float64, len(p))
		seed := make([]float64, c.Unknowns())
		seed[c.At(nodes[8])] = 1
		s.Gradient(seed, grad)
		for k := range p {
			if Param(k) == c.net.ctls[0].Param || p[k] == 0 {
				continue
			}
			h := 1e-5 * math.Abs(p[k])
			side := func(d float64) float64 {
				q := append([]float64(nil), p...)
				q[k] += d
				o := c.NewSolver()
				if err := o.Solve(q); err != nil {
					t.Fatal(err)
				}
				return o.V(nodes[8], 0)
			}
			num := (side(h) - side(-h)) / (2 * h)
			// 1e-6 of the derivative; a micro-volt for a parameter that moves
			// by its own size, the truncation of the difference; and what the
			// duty's tolerance leaves in each side, 22 V of it, over the step.
			tol := 1e-6*math.Abs(num) + 1e-6/math.Abs(p[k]) + 22*dutyTolerance/h
			if math.Abs(num-grad[k]) > tol {
				t.Errorf("d V/d p%d: adjoint %.9g, difference %.9g", k, grad[k], num)
			}
			compared++
		}
	}
	t.Logf("%d derivatives compared", compared)
}

// TestEliminationAgainstDense holds the compiled elimination, which does not
// pivot, against gonum's pivoted LU on the same Jacobian.
func TestEliminationAgainstDense(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 20 {
		c, p, _ := ladderNet(t, rng)
		s := c.NewSolver()
		if err := s.Solve(p); err != nil {
			t.Fatal(err)
		}
		v := append([]float64(nil), s.raw...)
		for k := range c.devs {
			d := &c.devs[k]
			lx, lp := s.gather(d, s.x)
			lf, lj := make([]float64, d.n), make([]float64, d.n*d.n)
			d.dev.Stamp(lx, lp, lf, lj)
			for q, at := range d.at {
				if at >= 0 {
					v[c.prog.outside+int(at)] += lj[q]
				}
			}
		}
		dense := mat.NewDense(c.n, c.n, nil)
		for i, row := range c.prog.place {
			for j, at := range row {
				if at >= 0 {
					dense.Set(i, j, v[at])
				}
			}
		}
		b := make([]float64, c.n)
		for i := range b {
			b[i] = rng.NormFloat64()
		}
		for _, trans := range []bool{false, true} {
			var want mat.VecDense
			a := mat.Matrix(dense)
			if trans {
				a = dense.T()
			}
			if err := want.SolveVec(a, mat.NewVecDense(c.n, append([]float64(nil), b...))); err != nil {
				t.Fatal(err)
			}
			// The factors that Solve left, and the same from the whole matrix.
			v, x := s.val, append([]float64(nil), b...)
			if trans {
				c.prog.transposed(v, x)
			} else {
				c.prog.solve(v, x)
			}
			big := mat.Norm(&want, math.Inf(1))
			for i := range x {
				if math.Abs(x[i]-want.AtVec(i)) > 1e-7*big {
					t.Fatalf("unknown %d: %.12g, dense %.12g (trans %v)", i, x[i], want.AtVec(i), trans)
				}
			}
		}
	}
}

func TestNoSolutionNamesTheNode(t *testing.T) {
	n := New("0")
	a := n.Node("far end")
	if _, _, err := n.Add("impossible", impossible{}, a, 0); err != nil {
		t.Fatal(err)
	}
	n.Resistor("r", a, 0)
	c, err := n.Compile()
	if err != nil {
		t.Fatal(err)
	}
	s := c.NewSolver()
	err = s.Solve([]float64{1})
	var no *NoSolution
	if !errors.As(err, &no) || no.Node != "far end" {
		t.Fatalf("got %v, want NoSolution at far end", err)
	}
}

// impossible draws v*v+1 amperes whatever the voltage is, plus what the
// resistor gives: v*v + v + 1 = 0 has no real root.
type impossible struct{}

func (impossible) Size() (terminals, unknowns, params int) { return 2, 0, 0 }

func (impossible) Stamp(x, _, f, jac []float64) {
	v := x[0] - x[1]
	f[0], f[1] = v*v+1, -v*v-1
	jac[0], jac[1], jac[2], jac[3] = 2*v, -2*v, -2*v, 2*v
}

func (impossible) Grad(_, _, _ []float64) {}
