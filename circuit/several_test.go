package circuit

import (
	"math"
	"math/rand/v2"
	"testing"
)

// fed is buck with a third terminal from which it draws amps at full duty for its
// field.
type fed struct{}

func (fed) Size() (terminals, unknowns, params int) { return 3, 0, 4 }

func (fed) Stamp(x, p, f, jac []float64) { // p: duty, volts at full duty, ohms, amps
	g := 1 / p[2]
	i := (x[0] - x[1] - p[0]*p[1]) * g
	draw := p[0] * p[3] / 12
	f[0], f[1], f[2] = i, -i-draw*(x[2]-x[1]), draw*(x[2]-x[1])
	copy(jac, []float64{g, -g, 0, -g, g + draw, -draw, 0, -draw, draw})
}

func (fed) Grad(x, p, d []float64) {
	g, v := 1/p[2], (x[2]-x[1])/12
	d[0], d[1], d[2] = -p[1]*g, -p[0]*g, -(x[0]-x[1]-p[0]*p[1])*g*g
	d[4], d[5], d[6] = -d[0]-p[3]*v, -d[1], -d[2]
	d[7], d[8], d[11] = -p[0]*v, p[3]*v, p[0]*v
}

// pair is two sources with a law each, on one line with a battery and a load. Feed is
// the resistance [Ohm] of the lead that each source senses and draws its field through,
// apart how far the set-points are [V].
type twin struct {
	p     []float64
	c     *Compiled
	line  Node
	duty  [2]Param
	sense [2]Node
	laws  [2][]Param
}

// newTwin builds it; held leaves the laws away, so that duties are parameters.
func newTwin(t *testing.T, feed [2]float64, apart, load float64, held bool) *twin {
	t.Helper()
	n := New("0")
	w := &twin{line: n.Node("line")}
	set := func(first Param, v ...float64) {
		for len(w.p) < n.Params() {
			w.p = append(w.p, 0)
		}
		copy(w.p[first:], v)
	}
	set(n.Resistor("load", w.line, 0), load)
	e, _, _ := n.Add("battery", EMF{}, w.line, 0)
	set(e, 13.7, 0.02)
	for k, name := range []string{"first", "second"} {
		out, pin := n.Node(name), n.Node(name+" pin")
		w.sense[k] = pin
		set(n.Resistor("cable", out, w.line), 0.004+0.003*float64(k))
		set(n.Resistor("feed", out, pin), feed[k])
		set(n.Resistor("divider", pin, 0), 1000)
		emf := n.Node(name + " behind its diode")
		d, _, _ := n.Add(name+" diode", Diode{}, emf, out)
		set(d, 5e-9, 0.0388, 0.01)
		b, _, _ := n.Add(name, fed{}, emf, 0, pin)
		set(b, 0, 22, 0.2, 4)
		w.duty[k] = b
		l := n.Param()
		w.laws[k] = []Param{l, n.Param()}
		set(l, 14.3-apart*float64(k), 0.2)
		if !held {
			n.Control(Control{Param: b, Plus: pin, Minus: 0, Law: straight{}, LawParams: w.laws[k]})
		}
	}
	var err error
	if w.c, err = n.Compile(); err != nil {
		t.Fatal(err)
	}
	return w
}

// gap is law - duty of a source in the network at held duties.
func (w *twin) gap(t *testing.T, s *Solver, d [2]float64, k int) float64 {
	t.Helper()
	p := append([]float64(nil), w.p...)
	p[w.duty[0]], p[w.duty[1]] = d[0], d[1]
	if err := s.Solve(p); err != nil {
		t.Fatal(err)
	}
	law, _ := straight{}.Duty(s.V(w.sense[k], 0), []float64{p[w.laws[k][0]], p[w.laws[k][1]]})
	return law - d[k]
}

// down is the largest root of f on 0..1: fine steps down from full, then halving.
func down(f func(d float64) float64) float64 {
	const steps = 200
	hi := 1.0
	for k := 1; k <= steps; k++ {
		lo := 1 - float64(k)/steps
		if f(lo) < 0 {
			hi = lo
			continue
		}
		for range 60 {
			if mid := 0.5 * (lo + hi); f(mid) < 0 {
				hi = mid
			} else {
				lo = mid
			}
		}
		return 0.5 * (lo + hi)
	}
	return 0
}

// rule is the oracle: of the first the largest duty at which the law asks for it
// while the second stands at the largest at which its own does.
func (w *twin) rule(t *testing.T) (d [2]float64) {
	t.Helper()
	s := w.c.NewSolver()
	second := func(first float64) float64 {
		return down(func(x float64) float64 { return w.gap(t, s, [2]float64{first, x}, 1) })
	}
	d[0] = down(func(x float64) float64 { return w.gap(t, s, [2]float64{x, second(x)}, 0) })
	d[1] = second(d[0])
	return d
}

// twinCases are the corners and edges of two duties, and feeds whose drop feeds back
// (0.9 Ohm with 4 A and more is more than full field raises the line), so that there are several roots.
var twinCases = []struct {
	name        string
	feed        [2]float64
	apart, load float64
}{
	{"light load, 0.2 V apart", [2]float64{1e-3, 1e-3}, 0.2, 3},
	{"light load, 0.2 V apart the other way", [2]float64{1e-3, 1e-3}, -0.2, 3},
	{"the same set-point", [2]float64{1e-3, 1e-3}, 0, 1},
	{"one off", [2]float64{1e-3, 1e-3}, 0.8, 3},
	{"the other off", [2]float64{1e-3, 1e-3}, -0.8, 3},
	{"both full", [2]float64{1e-3, 1e-3}, 0.2, 0.03},
	{"one full, one regulating", [2]float64{1e-3, 1e-3}, 0.4, 0.33},
	{"first feeds back", [2]float64{0.9, 1e-3}, 0.1, 0.6},
	{"second feeds back", [2]float64{1e-3, 0.9}, 0, 0.6},
	{"both feed back", [2]float64{0.9, 0.9}, 0, 0.6},
}

// TestTwoControls holds the solved duties against the rule, found by brute force from
// networks whose duties are parameters, and the solution from a far start against the
// same from a cold one.
func TestTwoControls(t *testing.T) {
	for _, x := range twinCases {
		w := newTwin(t, x.feed, x.apart, x.load, false)
		want := newTwin(t, x.feed, x.apart, x.load, true).rule(t)
		far := newTwin(t, [2]float64{1e-3, 1e-3}, -x.apart+0.1, 1, false)
		s := w.c.NewSolver()
		for _, p := range [][]float64{w.p, far.p, w.p} { // cold, elsewhere, back warm
			if err := s.Solve(p); err != nil {
				t.Fatalf("%s: %v", x.name, err)
			}
			if &p[0] != &w.p[0] {
				var warm Warm
				s.Save(&warm)
				s.Resume(&warm)
				continue
			}
			for k := range want {
				// A volt of the line for the whole duty: 1e-6 of it is a microvolt.
				near(t, x.name, "closed form: brute force over both duties", s.DutyAt(k), want[k], 1e-6)
			}
		}
		t.Logf("%s: duties %.4f %.4f, regimes %v", x.name, want[0], want[1], s.Sheets())
	}
}

// TestTwoControlsFromAnywhere: warm solves between random vehicles end where cold ones do.
func TestTwoControlsFromAnywhere(t *testing.T) {
	rng := rand.New(rand.NewPCG(30, 1))
	s := newTwin(t, [2]float64{1e-3, 1e-3}, 0, 1, false).c.NewSolver()
	work := 0
	const points = 2000
	for range points {
		feed := [2]float64{0.02 * rng.Float64(), 0.02 * rng.Float64()}
		w := newTwin(t, feed, 0.3*rng.NormFloat64(), math.Exp(1.5*rng.NormFloat64()), false)
		before := s.Work.Newton
		if err := s.Solve(w.p); err != nil {
			t.Fatal(err)
		}
		work += s.Work.Newton - before
		var warm Warm
		s.Save(&warm)
		s.Resume(&warm)
		cold := w.c.NewSolver()
		if err := cold.Solve(w.p); err != nil {
			t.Fatal(err)
		}
		for k := range 2 {
			if d := math.Abs(s.DutyAt(k) - cold.DutyAt(k)); d > 1e-6 {
				t.Errorf("feeds %v: duty %d is %.9f warm and %.9f cold", feed, k, s.DutyAt(k), cold.DutyAt(k))
			}
		}
	}
	t.Logf("%.1f Newton iterations a warm point", float64(work)/points)
}

// TestTwoControlsAdjoint holds every derivative of a node and of both duties against
// central differences of whole solves.
func TestTwoControlsAdjoint(t *testing.T) {
	for _, x := range twinCases {
		w := newTwin(t, x.feed, x.apart, x.load, false)
		s := w.c.NewSolver()
		if err := s.Solve(w.p); err != nil {
			t.Fatal(err)
		}
		grad, seed := make([]float64, len(w.p)), make([]float64, w.c.Unknowns())
		seed[w.c.At(w.line)] = 1
		s.Gradient(seed, grad)
		duty := s.DutyOf()
		for k, v := range w.p {
			if Param(k) == w.duty[0] || Param(k) == w.duty[1] {
				continue
			}
			h := 1e-5 * math.Abs(v)
			side := func(d float64) (volts, duty float64) {
				p := append([]float64(nil), w.p...)
				p[k] += d
				var warm Warm
				s.Save(&warm)
				defer s.Resume(&warm)
				if err := s.Solve(p); err != nil {
					t.Fatal(err)
				}
				return s.V(w.line, 0), s.DutyAt(0)
			}
			va, da := side(h)
			vb, db := side(-h)
			// As of one control: 1e-6 of it, truncation, and the duty's tolerance over the step.
			tol := 1e-6*math.Abs(grad[k]) + 1e-6/math.Abs(v) + 22*dutyTolerance/h
			near(t, x.name, "closed form: central difference", grad[k], (va-vb)/(2*h), tol)
			near(t, x.name+", duty", "closed form: central difference", duty[k], (da-db)/(2*h), 20*tol+1e-5*math.Abs(duty[k]))
		}
	}
}
