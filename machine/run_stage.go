package machine

import "math"

// runner integrates a build over a period.
type runner struct {
	c       *Build
	m       *mesh
	width   [maxLevel + 1]*windings // of a step halved so many times
	w       *windings
	emf     [][2][3]float64 // EMF at the two stages of each whole step [V]
	v       [maxMesh]float64
	a       [maxMesh][maxMesh]float64 // factors of the last Newton matrix
	amps    [maxDiodes]float64        // of the diodes [A]
	sens    [3][3]float64             // d(winding currents)/d(start currents)
	slope   [3]float64                // of the winding currents [A a whole step]
	on      uint16                    // diodes that conduct
	scale   float64                   // short-circuit current of a winding [A]
	unit    float64                   // of slope: E/L [A a whole step]
	tight   float64                   // step of the voltages that ends a stage [V]
	balance float64                   // node current that ends a stage [A]
	sum     totals
	wave    []signals // at the ends of the whole steps
}

const maxDiodes = 11

// newRunner makes a build ready; it keeps c.
func newRunner(c *Build) *runner {
	r := &runner{c: c, m: newMesh(c)}
	nvt := c.Diode.Emission * thermalVolts
	if c.Field != nil {
		nvt = min(nvt, c.Field.Diode.Emission*thermalVolts)
	}
	r.tight = 1e-7 * nvt
	r.scale = c.EMF / (c.Omega * c.Henries)
	if c.EMF == 0 {
		r.scale = math.Abs(c.Volts) / c.Ohms
	}
	r.balance = 1e-12*r.scale + 4e-16*(c.EMF+math.Abs(c.Volts))*r.m.greatest(c)
	for k := range maxMesh {
		r.v[k] = c.Volts / 2
	}
	r.v[r.m.output] = c.Volts
	if c.EMF == 0 {
		return r
	}
	h := 2 * math.Pi / (c.Omega * float64(c.Steps))
	r.unit = c.EMF / c.Henries * h
	for level := range r.width {
		r.width[level] = r.m.windings(c, gamma*h)
		h /= 2
	}
	r.emf = make([][2][3]float64, c.Steps)
	for s := range r.emf {
		r.emf[s] = [2][3]float64{r.emfs(float64(s) + gamma), r.emfs(float64(s) + 1)}
	}
	r.wave = make([]signals, c.Steps)
	return r
}

// emfs returns the EMFs of the windings [V] at a time in whole steps.
func (r *runner) emfs(at float64) (e [3]float64) {
	c := r.c
	theta := 2 * math.Pi * at / float64(c.Steps)
	for k := range e {
		x := theta - 2*math.Pi/3*float64(k)
		e[k] = c.EMF * (math.Sin(x) + c.Third*math.Sin(3*x) + c.Fifth*math.Sin(5*x))
	}
	return e
}

// stage solves one implicit stage: winding currents i from the stage's base a,
// and carries the sensitivities along. It stops when the node voltages stand
// still, or when the node currents balance to rounding.
//
// The node currents are the slope of a convex function of the node voltages
// (every element's current rises with its voltage), so a Newton step is cut back
// where that function rises again along it, and the search cannot turn in circles.
func (r *runner) stage(e, a, i *[3]float64) error {
	n := r.m.n
	f := r.residual(e, a)
	for range 100 {
		worst, downhill, step := 0.0, 0.0, 0.0
		for k := range n {
			worst = max(worst, math.Abs(f[k]))
		}
		d := f
		if worst >= r.balance {
			r.factor()
			r.solve(&d)
			for k := range n {
				downhill += f[k] * d[k]
				step = max(step, math.Abs(d[k]))
			}
		}
		if step < r.tight {
			if step > 0 {
				for k := range n {
					r.v[k] -= d[k]
				}
			}
			r.residual(e, a)
			r.factor()
			*i = r.windingAmps(e, a)
			r.carry()
			return nil
		}
		f = r.along(e, a, &d, downhill, step)
	}
	return errNewton
}

// along goes back along the Newton step d, all the way where that does not
// overshoot by half, and returns the node currents there. downhill is the slope
// where it begins, step the largest of d.
func (r *runner) along(e, a *[3]float64, d *[maxMesh]float64, downhill, step float64) [maxMesh]float64 {
	from := r.v
	low, high, share := 0.0, 1.0, 1.0
	for n := 0; ; n++ {
		for k := range r.m.n {
			r.v[k] = from[k] - share*d[k]
		}
		f := r.residual(e, a)
		slope := 0.0
		for k := range r.m.n {
			slope += f[k] * d[k]
		}
		switch {
		case n == 40 || step < 1e3*r.tight:
			return f
		case slope < -0.5*downhill:
			high = share
		case slope > 0.5*downhill && high < 1:
			low = share
		default:
			return f
		}
		share = (low + high) / 2
	}
}

// at is the voltage of a node.
func (r *runner) at(node int) float64 {
	if node == ground {
		return 0
	}
	return r.v[node]
}

// drive is EMF and node voltages along a winding [V].
func (r *runner) drive(e *[3]float64) (u [3]float64) {
	for k := range 3 {
		u[k] = e[k] + r.at(r.m.from[k]) - r.at(r.m.to[k])
	}
	return u
}

func (r *runner) windingAmps(e, a *[3]float64) (i [3]float64) {
	u := r.drive(e)
	for k := range 3 {
		for j := range 3 {
			i[k] += r.w.g[k][j]*u[j] + r.w.q[k][j]*a[j]
		}
	}
	return i
}

// residual returns the node equations at r.v, currents out of a node, and
// leaves the Newton matrix in r.a.
func (r *runner) residual(e, a *[3]float64) (f [maxMesh]float64) {
	m, w := r.m, r.w
	r.a = w.base
	for p := range m.n {
		s := -m.held[p]
		for q := range m.all {
			s += w.base[p][q] * r.v[q]
		}
		f[p] = s
	}
	for k := range 3 {
		s := 0.0
		for j := range 3 {
			s += w.g[k][j]*e[j] + w.q[k][j]*a[j]
		}
		f[m.from[k]] += s
		f[m.to[k]] -= s
	}
	for k := range m.diodes {
		d := &m.diodes[k]
		v := r.at(d.anode) - r.at(d.cathode)
		r.amps[k] = d.across * v
		if d.j == nil {
			continue
		}
		x, g := d.j.at(v)
		r.amps[k] += x
		if d.anode != ground {
			f[d.anode] += x
		}
		if d.cathode != ground {
			f[d.cathode] -= x
		}
		couple(&r.a, d.anode, d.cathode, g)
	}
	return f
}

// factor does the L D L' factorisation of the symmetric matrix in place: L in
// the lower half, L' in the upper. A nodal conductance matrix is positive
// definite: no pivoting.
func (r *runner) factor() {
	n, m := r.m.n, &r.a
	for j := range n {
		d := m[j][j]
		for i := j + 1; i < n; i++ {
			l := m[i][j] / d
			if l == 0 {
				m[j][i] = 0
				continue
			}
			for k := j + 1; k <= i; k++ {
				m[i][k] -= l * m[k][j]
			}
			m[j][i] = l
		}
	}
}

// solve replaces f by the solution of the factored system.
func (r *runner) solve(f *[maxMesh]float64) {
	n, m := r.m.n, &r.a
	for j := range n {
		for i := j + 1; i < n; i++ {
			f[i] -= m[j][i] * f[j]
		}
	}
	for j := n - 1; j >= 0; j-- {
		f[j] /= m[j][j]
		for i := j + 1; i < n; i++ {
			f[j] -= m[j][i] * f[i]
		}
	}
}

// carry takes the sensitivities of the winding currents through the stage just
// solved: d(base) on entry, d(stage currents) on return.
func (r *runner) carry() {
	m, w := r.m, r.w
	for col := range 3 {
		var f [maxMesh]float64
		var q [3]float64
		for k := range 3 {
			for j := range 3 {
				q[k] += w.q[k][j] * r.sens[j][col]
			}
			f[m.from[k]] -= q[k]
			f[m.to[k]] += q[k]
		}
		r.solve(&f)
		for k := range 3 {
			s := q[k]
			for j := range 3 {
				s += w.g[k][j] * (f[m.from[j]] - f[m.to[j]])
			}
			r.sens[k][col] = s
		}
	}
}
