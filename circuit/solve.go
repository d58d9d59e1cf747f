package circuit

import (
	"fmt"
	"math"
)

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
	c    *Compiled
	X    []float64 // solution: node voltages [V], then own unknowns
	P    []float64 // parameters of the last solve
	Work Work
	*search
	// CountRoots makes a full-field root look whether it hides lower ones.
	// It never changes the root that is taken, only its label.
	CountRoots bool

	g      []float64 // the resistors' conductances [S]
	raw    []float64 // the same and the leaks, by prog's places
	val    []float64 // factors of the inner part; from prog.outside on core's
	cv     []float64 // that part of val: Jacobian of the core, then its factors
	schur  []float64 // the resistors as the core sees them
	x      []float64 // the core's part of X
	whole  []float64 // scratch of the length of X
	f, dx  []float64 // of the core, as all that follows
	bar    []float64
	ahead  []float64 // Jacobian at a trial point
	there  bool      // x is the last trial point: f and ahead are those at x
	trial  []float64
	lx, lf []float64 // device scratch
	lj, lg []float64
	own    []float64 // each device's parameters, then its figures
	final  float64   // step below which Newton ends
	done   float64   // step below which joint iteration ends
	stiff  float64   // false transient: conductance that holds x near prev [S]
	prev   []float64 // where the false transient came from
	weight []float64 // of each unknown in the norm of a step
	gentle bool      // start with the false transient
	lam    []float64

	sense      []float64 // adjoint of the sensed voltage, of the length of X
	senseFresh bool
	graded     bool // lg holds the gradients at the solution

	pin       int       // the core's unknown that is held, -1 = none
	pinAt     float64   // at what
	loopGap   float64   // what its own equation said
	loopSlope []float64 // and its row of the Jacobian
	lull      lull      // of the walk from nothing
	nearX     []float64 // the core at the last point this side of the valley's floor
	roused    bool      // the last solution was that of a woken machine
}

// NewSolver makes the memory for one goroutine.
func (c *Compiled) NewSolver() *Solver {
	s := &Solver{c: c, final: finalStep, done: jointDone, pin: -1}
	v := func(n int) []float64 { return make([]float64, n) }
	m := c.core.n + max(0, len(c.net.ctls)-1)
	s.X, s.P, s.whole, s.sense = v(c.ni+m), v(c.net.nParam), v(c.n), v(c.n)
	s.g = v(len(c.res))
	s.raw, s.val, s.schur, s.ahead = v(c.prog.nnz), v(c.prog.nnz), v(c.core.nnz), v(c.core.nnz)
	s.x, s.cv = s.X[c.ni:], s.val[c.prog.outside:]
	s.f, s.bar, s.lam, s.loopSlope = v(c.core.n), v(c.core.n), v(c.core.n), v(c.core.n)
	s.nearX = v(m)
	s.dx, s.trial, s.prev, s.weight = v(m), v(m), v(m), v(m)
	s.search = c.searches(m)
	big := 0
	for _, d := range c.devs {
		big = max(big, d.n)
	}
	s.lx, s.lf, s.lj, s.lg, s.own = v(big), v(big), v(big*big), v(c.ng), v(c.nk)
	return s
}

// linear eliminates the inner nodes at the present resistances.
func (s *Solver) linear() bool {
	g := s.c.prog
	clear(s.raw)
	for i := range s.c.nn {
		s.raw[g.diagAt[i]] = Leak
	}
	for k := range s.c.res {
		r := &s.c.res[k]
		g := 1 / s.P[r.p]
		s.g[k] = g
		if r.aa >= 0 {
			s.raw[r.aa] += g
		}
		if r.bb >= 0 {
			s.raw[r.bb] += g
		}
		if r.ab >= 0 {
			s.raw[r.ab] -= g
			s.raw[r.ba] -= g
		}
	}
	copy(s.val, s.raw)
	ok := g.factorInner(s.val)
	copy(s.schur, s.cv)
	return ok
}

// weigh sets the weight of each unknown in a step's norm: volts for nodes, a
// hundredth of them where hardly anything fixes the node (behind an open, a
// tenth of a millisiemens), and a tenth of the amperes for own unknowns, so
// that a battery current of 100 A does not outweigh a field.
func (s *Solver) weigh() {
	c := s.c
	for i := range s.weight {
		switch {
		case i >= c.core.n:
			s.weight[i] = 1 // a duty
		case i >= c.nn-c.ni:
			s.weight[i] = 0.1
		case s.raw[c.prog.diagAt[c.ni+i]]+s.stiff < 1e-4:
			s.weight[i] = 0.01
		default:
			s.weight[i] = 1
		}
	}
}

// residual writes F(x) of the core into f and, unless it is nil, its Jacobian into jac.
func (s *Solver) residual(x, f, jac []float64) {
	clear(f)
	for _, e := range s.c.core.entries {
		f[e.i] += s.schur[e.at] * x[e.j]
	}
	if jac != nil {
		copy(jac, s.schur)
	}
	for k := range s.c.devs {
		s.stamp(&s.c.devs[k], x, f, jac)
	}
	if s.pin >= 0 {
		s.holdLoop(f, x, jac)
	}
	if s.stiff != 0 {
		s.hold(x, f, jac)
	}
}

// hold adds what keeps x near prev in the false transient. A device's own
// equation falls with its own unknown, as a branch equation v - R i does; a
// node's rises.
func (s *Solver) hold(x, f, jac []float64) {
	for i := range f {
		g := s.stiff
		if i >= s.c.nn-s.c.ni {
			g *= -inertia
		}
		f[i] += g * (x[i] - s.prev[i])
		if jac != nil {
			jac[s.c.core.diagAt[i]] += g
		}
	}
}

// prepare hands every device its parameters.
func (s *Solver) prepare() {
	for k := range s.c.devs {
		d := &s.c.devs[k]
		own := s.own[d.k : d.k+d.np+d.nk]
		for i, p := range d.params {
			own[i] = s.P[p]
		}
		if d.prep != nil {
			d.prep.Prepare(own[:d.np:d.np], own[d.np:])
		}
	}
}

// gather is a device's view of x, and its parameters with its figures.
func (s *Solver) gather(d *devStamp, x []float64) (lx, lp []float64) {
	lx = s.lx[:d.n]
	for i, g := range d.x {
		lx[i] = 0
		if g >= 0 {
			lx[i] = x[g]
		}
	}
	return lx, s.own[d.k : d.k+d.np+d.nk]
}

func (s *Solver) stamp(d *devStamp, x, f, jac []float64) {
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
	if jac == nil {
		return
	}
	for q, at := range d.at {
		if at >= 0 {
			jac[at] += lj[q]
		}
	}
}

// Forget drops what the last solve taught the duty search, so that the next
// one does not depend on it.
func (s *Solver) Forget() {
	for c := s.search; c != nil; c = c.inner {
		c.warm, c.Duty, c.rise = false, 0, 0
	}
	s.lull.known, s.roused = false, false
}

// Rough lets operating points be found to about a microvolt only: enough for the
// steps of a fit.
func (s *Solver) Rough(on bool) {
	s.done = jointDone
	if on {
		s.done = roughDone
	}
}

// Solve finds the operating point for the parameters p, starting from X.
func (s *Solver) Solve(p []float64) error {
	copy(s.P, p)
	s.graded, s.senseFresh = false, false
	s.prepare()
	s.Work.Solves++
	s.Sheet = Sheet{}
	if !s.linear() {
		s.Work.Unresolved++
		return &NoSolution{Node: "resistors", Rungs: "elimination of the inner nodes"}
	}
	if s.ctl == nil {
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

// finish fills in the inner nodes and leaves the factors of the whole Jacobian at
// the solution in val. One correction against the equations as they stood before
// anything was eliminated is the last word on accuracy.
func (s *Solver) finish(err error) error {
	if err != nil {
		return err
	}
	s.c.prog.inward(s.val, s.X)
	f := s.whole
	s.currents(f)
	copy(s.cv, s.schur)
	for k := range s.c.devs {
		s.stamp(&s.c.devs[k], s.x, f[s.c.ni:], s.cv)
	}
	s.Work.Factors++
	if !s.c.core.factor(s.cv) {
		return &NoSolution{Node: "Jacobian", Rungs: "factor at the solution"}
	}
	s.c.prog.solve(s.val, f)
	for i, d := range f {
		s.X[i] -= d
	}
	if s.ctl != nil {
		s.lastDuty()
	}
	for c := s.inner; c != nil; c = c.inner {
		c.Duty = s.x[c.tail]
		c.label(1)
	}
	return nil
}

// currents writes what the resistors and leaks carry away from each node into f.
// Each resistor's current is computed once and counted at both ends, so that it
// cancels to the last bit in a group of nodes that hangs on little else: the sum
// of a row of the matrix would leave 1e-12 A there, a nanovolt on a stud whose
// line is open.
func (s *Solver) currents(f []float64) {
	clear(f)
	for i := range s.c.nn {
		f[i] = Leak * s.X[i]
	}
	for k := range s.c.res {
		r := &s.c.res[k]
		i := s.g[k] * (at(s.X, r.a) - at(s.X, r.b))
		if r.a >= 0 {
			f[r.a] += i
		}
		if r.b >= 0 {
			f[r.b] -= i
		}
	}
}

// lastDuty is the duty's share of the last correction. Where it is not small the
// solution is one between two branches, and there is no law to meet.
func (s *Solver) lastDuty() {
	s.dutyColumn()
	s.c.core.solve(s.cv, s.column)
	law, dv := s.law()
	ahead := 0.0
	if s.inner != nil {
		clear(s.dx)
		s.follow(s.search, false, s.dx, s.column)
		ahead = dv * s.across(s.dx)
	}
	dd := (law - s.Duty + ahead) / (1 + dv*s.across(s.column))
	if !(math.Abs(dd) < lastDuty) || !s.calm(dd) {
		return
	}
	for i, c := range s.column {
		s.x[i] -= c * dd
	}
	if s.inner != nil {
		s.move()
	}
	s.setDuty(s.Duty + dd)
	s.c.prog.inward(s.val, s.X)
}

// V returns the voltage between two nodes of the last solution [V].
func (s *Solver) V(a, b Node) float64 { return at(s.X, s.c.pos[a]) - at(s.X, s.c.pos[b]) }
