package circuit

import (
	"fmt"
	"math"
)

// Compiled is a network with its elimination program. It is safe to share;
// every goroutine takes its own Solver.
type Compiled struct {
	net  *Network
	prog *program
	nn   int // nodes without the reference
	n    int // unknowns
	res  []resStamp
	devs []devStamp
}

type resStamp struct {
	a, b           int32 // unknowns, -1 for the reference
	aa, ab, ba, bb int32 // places, -1 where an end is the reference
	p              Param
}

type devStamp struct {
	placed
	n, np int
	x     []int32 // unknown of each local variable, -1 for the reference
	at    []int32 // place of each local Jacobian entry, -1 where it falls on the reference
}

// Compile checks the network and orders the elimination.
func (n *Network) Compile() (*Compiled, error) {
	if err := n.check(); err != nil {
		return nil, err
	}
	c := &Compiled{net: n, nn: len(n.names) - 1}
	c.n = c.nn + n.nOwn
	pat := newPattern(c.n)
	for _, r := range n.res {
		pat.add(int(r.a)-1, int(r.b)-1)
	}
	for _, d := range n.devs {
		s := c.local(d)
		for _, i := range s.x {
			for _, j := range s.x {
				pat.add(int(i), int(j))
			}
		}
		c.devs = append(c.devs, s)
	}
	c.prog = compile(pat)
	c.place()
	return c, nil
}

func (c *Compiled) local(d placed) devStamp {
	nt, nu, np := d.dev.Size()
	s := devStamp{placed: d, n: nt + nu, np: np}
	for _, t := range d.terms {
		s.x = append(s.x, int32(t)-1)
	}
	for u := range nu {
		s.x = append(s.x, int32(c.nn+d.u+u))
	}
	return s
}

func (c *Compiled) place() {
	at := func(i, j int32) int32 {
		if i < 0 || j < 0 {
			return -1
		}
		return c.prog.place[i][j]
	}
	for _, r := range c.net.res {
		a, b := int32(r.a)-1, int32(r.b)-1
		c.res = append(c.res, resStamp{a, b, at(a, a), at(a, b), at(b, a), at(b, b), r.p})
	}
	for k := range c.devs {
		s := &c.devs[k]
		for _, i := range s.x {
			for _, j := range s.x {
				s.at = append(s.at, at(i, j))
			}
		}
	}
}

// Flops counts the arithmetic of one factorisation and one solve, read off the
// compiled program.
func (c *Compiled) Flops() int { return c.prog.flops }

// Unknowns returns the length of a solution vector: nodes, then own unknowns.
func (c *Compiled) Unknowns() int { return c.n }

// At returns where a node stands in the solution vector, -1 for the reference.
func (c *Compiled) At(n Node) int { return int(n) - 1 }

// Own returns where a device's own unknown stands in the solution vector.
func (c *Compiled) Own(u int) int { return c.nn + u }

// Network returns the description that was compiled.
func (c *Compiled) Network() *Network { return c.net }

// NoSolution says that the ladder ended without an operating point.
type NoSolution struct {
	Node     string  // where the residual is worst
	Residual float64 // [A], or the unit of a device's own equation
	Rungs    string
}

func (e *NoSolution) Error() string {
	return fmt.Sprintf("circuit: no operating point found (%s); worst at %s, %.3g A out of balance", e.Rungs, e.Node, e.Residual)
}

// Work counts what solving cost, the same on every machine.
type Work struct {
	Solves     int // operating points asked for
	Newton     int // iterations
	Factors    int // factorisations
	Rungs      int // rungs of the ladder beyond the first
	DutyEvals  int // network solves inside the duty search
	Unresolved int // operating points that ended in NoSolution
}

// Solver holds the memory of one goroutine's solves. After Solve the factors
// belong to the solution, so that adjoints cost one back-substitution.
type Solver struct {
	c     *Compiled
	X     []float64 // solution: node voltages [V], then own unknowns
	P     []float64 // parameters of the last solve
	Work  Work
	Duty  float64
	Sheet Sheet
	// CountRoots makes a full-field root look whether it hides lower ones.
	// It never changes the root that is taken, only its label.
	CountRoots bool

	base, val  []float64 // linear part, full Jacobian or its factors
	f, dx, bar []float64
	trial      []float64
	lx, lf     []float64 // device scratch
	lj, lg     []float64
	stiff      float64   // false transient: conductance that holds X near prev [S]
	prev       []float64 // where the false transient came from
	weight     []float64 // of each unknown in the norm of a step
	gentle     bool      // start with the false transient
	column     []float64 // dF/d(duty)
	keep       []float64 // solution before the joint iteration
	below      []float64 // solution at the last duty that was too low
	above      []float64 // and at the last that was too high
	lam        []float64
	sense      []float64 // adjoint of the sensed voltage
	senseGrad  []float64
	senseFresh bool
	lawGrad    []float64
	lawGrad0   float64   // slope of the law at the last gap
	warm       bool      // X, full and Duty are a solution to go on from
	full       []float64 // solution at full field
	lawP       []float64
}

// NewSolver makes the memory for one goroutine.
func (c *Compiled) NewSolver() *Solver {
	s := &Solver{c: c}
	v := func(n int) []float64 { return make([]float64, n) }
	s.X, s.P = v(c.n), v(c.net.nParam)
	s.base, s.val = v(c.prog.nnz), v(c.prog.nnz)
	s.f, s.dx, s.bar, s.trial, s.prev, s.lam, s.sense = v(c.n), v(c.n), v(c.n), v(c.n), v(c.n), v(c.n), v(c.n)
	s.weight, s.column, s.below, s.above, s.keep, s.full = v(c.n), v(c.n), v(c.n), v(c.n), v(c.n), v(c.n)
	s.senseGrad = v(c.net.nParam)
	big := 0
	np := 0
	for _, d := range c.devs {
		big, np = max(big, d.n), max(np, d.np)
	}
	s.lx, s.lf, s.lj, s.lg = v(max(big, np)*2), v(big), v(big*big), v(big*np)
	if c.net.ctl != nil {
		s.lawGrad, s.lawP = v(len(c.net.ctl.LawParams)), v(len(c.net.ctl.LawParams))
	}
	return s
}

// linear puts the resistors and leaks into base.
func (s *Solver) linear() {
	clear(s.base)
	for i := range s.c.n {
		// A device's own equation falls with its own unknown, as a
		// branch equation v - R i does; a node's rises.
		s.base[s.c.prog.diagAt[i]] = -inertia * s.stiff
		if i < s.c.nn {
			s.base[s.c.prog.diagAt[i]] = Leak + s.stiff
		}
	}
	for k := range s.c.res {
		r := &s.c.res[k]
		g := 1 / s.P[r.p]
		if r.aa >= 0 {
			s.base[r.aa] += g
		}
		if r.bb >= 0 {
			s.base[r.bb] += g
		}
		if r.ab >= 0 {
			s.base[r.ab] -= g
			s.base[r.ba] -= g
		}
	}
	s.weigh()
}

// weigh sets the weight of each unknown in a step's norm: volts for nodes, a
// hundredth of them where hardly anything fixes the node (behind an open, a
// tenth of a millisiemens), and a tenth of the amperes for own unknowns, so
// that a battery current of 100 A does not outweigh a field.
func (s *Solver) weigh() {
	for i := range s.weight {
		switch {
		case i >= s.c.nn:
			s.weight[i] = 0.1
		case s.base[s.c.prog.diagAt[i]] < 1e-4:
			s.weight[i] = 0.01
		default:
			s.weight[i] = 1
		}
	}
}

// residual writes F(x) into f and, when jac is set, the Jacobian into val.
func (s *Solver) residual(x, f []float64, jac bool) {
	clear(f)
	for _, e := range s.c.prog.entries {
		if b := s.base[e.at]; b != 0 {
			f[e.i] += b * x[e.j]
		}
	}
	if jac {
		copy(s.val, s.base)
	}
	for k := range s.c.devs {
		s.stamp(&s.c.devs[k], x, f, jac)
	}
	if s.stiff != 0 {
		for i := range f {
			if i < s.c.nn {
				f[i] -= s.stiff * s.prev[i]
			} else {
				f[i] += inertia * s.stiff * s.prev[i]
			}
		}
	}
}

func (s *Solver) gather(d *devStamp, x []float64) (lx, lp []float64) {
	lx, lp = s.lx[:d.n], s.lx[d.n:d.n+d.np]
	for i, g := range d.x {
		lx[i] = 0
		if g >= 0 {
			lx[i] = x[g]
		}
	}
	for i, p := range d.params {
		lp[i] = s.P[p]
	}
	return lx, lp
}

func (s *Solver) stamp(d *devStamp, x, f []float64, jac bool) {
	lx, lp := s.gather(d, x)
	lf, lj := s.lf[:d.n], s.lj[:d.n*d.n]
	clear(lf)
	clear(lj)
	d.dev.Stamp(lx, lp, lf, lj)
	for i, g := range d.x {
		if g >= 0 {
			f[g] += lf[i]
		}
	}
	if !jac {
		return
	}
	for q, at := range d.at {
		if at >= 0 {
			s.val[at] += lj[q]
		}
	}
}

// Newton's limits. The step below which the last full step is taken as final
// leaves an error of its square by quadratic convergence: far under 1e-9 V.
const (
	maxNewton  = 60
	finalStep  = 1e-6
	minDamping = 1.0 / 4096
	trusted    = 0.05 // weighted step under which a step that shrinks is taken whole
)

// newton runs damped iterations at fixed parameters. The step is accepted when
// the simplified correction shrinks (natural monotonicity test).
func (s *Solver) newton() bool {
	s.linear()
	lam, last := 1.0, math.Inf(1)
	for range maxNewton {
		s.residual(s.X, s.f, true)
		s.Work.Newton++
		s.Work.Factors++
		if !s.c.prog.factor(s.val) {
			return false
		}
		for i, v := range s.f {
			s.dx[i] = -v
		}
		s.c.prog.solve(s.val, s.dx)
		size := s.norm(s.dx)
		if math.IsNaN(size) || math.IsInf(size, 0) {
			return false
		}
		if size < finalStep {
			for i, d := range s.dx {
				s.X[i] += d
			}
			return true
		}
		if size < trusted && size < 0.5*last {
			// Close by and shrinking: the test would only confirm it.
			for i, d := range s.dx {
				s.X[i] += d
			}
			last = size
			continue
		}
		last = size
		next, ok := s.damped(lam, size)
		if !ok {
			return false
		}
		lam = next
	}
	return false
}

// damped moves X along dx and returns the damping for the next iteration.
func (s *Solver) damped(lam, size float64) (float64, bool) {
	for lam >= minDamping {
		for i, d := range s.dx {
			s.trial[i] = s.X[i] + lam*d
		}
		s.residual(s.trial, s.bar, false)
		for i, v := range s.bar {
			s.bar[i] = -v
		}
		s.c.prog.solve(s.val, s.bar)
		shrunk := s.norm(s.bar)
		if shrunk <= (1-lam/4)*size {
			copy(s.X, s.trial)
			return math.Min(1, 2*lam), true
		}
		// The simplified correction estimates the curvature: the optimal
		// damping of a quadratic model, kept within a half and a tenth.
		diff := 0.0
		for i := range s.bar {
			diff = math.Max(diff, math.Abs(s.bar[i]-(1-lam)*s.dx[i]))
		}
		opt := lam / 2
		if diff > 0 && !math.IsNaN(diff) {
			opt = math.Min(opt, lam*lam*size/(2*diff))
		}
		lam = math.Max(opt, lam/10)
	}
	return lam, false
}

// norm is the largest weighted component.
func (s *Solver) norm(d []float64) float64 {
	m := 0.0
	for i, v := range d {
		if a := math.Abs(v * s.weight[i]); a > m || a != a {
			m = a
		}
	}
	return m
}

// Forget drops what the last solve taught the duty search, so that the next
// one does not depend on it.
func (s *Solver) Forget() { s.warm, s.Duty = false, 0 }

// Solve finds the operating point for the parameters p, starting from X.
func (s *Solver) Solve(p []float64) error {
	copy(s.P, p)
	s.Work.Solves++
	if s.c.net.ctl == nil {
		s.Sheet = Sheet{}
		return s.finish(s.fixed())
	}
	return s.finish(s.controlled())
}

// Settle is Solve from the present guess by the false transient alone: it stays
// on the branch that the guess belongs to where Newton might leave it.
func (s *Solver) Settle(p []float64) error {
	s.gentle = true
	defer func() { s.gentle = false }()
	return s.Solve(p)
}

// finish leaves the factors of the Jacobian at the solution in val.
func (s *Solver) finish(err error) error {
	if err != nil {
		return err
	}
	s.linear()
	s.residual(s.X, s.f, true)
	s.Work.Factors++
	if !s.c.prog.factor(s.val) {
		return &NoSolution{Node: "Jacobian", Rungs: "factor at the solution"}
	}
	// One correction with the exact factors: the last word on accuracy.
	for i, v := range s.f {
		s.dx[i] = -v
	}
	s.c.prog.solve(s.val, s.dx)
	for i, d := range s.dx {
		s.X[i] += d
	}
	return nil
}

// V returns the voltage between two nodes of the last solution [V].
func (s *Solver) V(a, b Node) float64 {
	v := 0.0
	if a > 0 {
		v = s.X[a-1]
	}
	if b > 0 {
		v -= s.X[b-1]
	}
	return v
}
