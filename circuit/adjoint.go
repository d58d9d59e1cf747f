package circuit

// Gradient adds to out the derivative of a reading with respect to every
// parameter, given the reading's derivatives with respect to the solution
// vector in seed (which is overwritten). It costs one back-substitution with
// the factors of the last solve, and where the network is controlled one more,
// shared by all readings of that solve. out must have Params() places.
func (s *Solver) Gradient(seed, out []float64) {
	s.grade()
	s.c.prog.transposed(s.val, seed)
	// The reading moves with the parameters at fixed duties, and with the duties.
	s.accumulate(seed, out)
	if s.ctl != nil {
		s.prepareSense()
		s.byDuties(seed, out)
	}
}

// GradientBoth is Gradient for two readings of one solve, which share the look-ups.
func (s *Solver) GradientBoth(seedA, seedB, outA, outB []float64) {
	s.grade()
	s.c.prog.transposedBoth(s.val, seedA, seedB)
	s.accumulateBoth(seedA, seedB, outA, outB)
	if s.ctl == nil {
		return
	}
	s.prepareSense()
	s.byDuties(seedA, outA)
	s.byDuties(seedB, outB)
}

// byDuties adds what the duties do that follow the parameters, to a reading's
// derivatives at fixed duties.
func (s *Solver) byDuties(seed, out []float64) {
	for c := s.search; c != nil; c = c.inner {
		dh := s.paramDot(seed[s.c.ni:], c.ctl.Param)
		out[c.ctl.Param] -= dh // the duty is not free
		if dh != 0 {
			for i, g := range c.grad {
				out[i] += dh * g
			}
		}
	}
}

// prepareSense fills each control's grad with d(duty)/d(parameter): a law's row of
// the adjoint for each, and then what the duties do to one another.
func (s *Solver) prepareSense() {
	if s.senseFresh {
		return
	}
	s.senseFresh = true
	s.grade()
	for c := s.search; c != nil; c = c.inner {
		s.lawRow(c)
	}
	for c := s.search; c != nil; c = c.inner {
		s.resolve(c)
	}
}

// lawRow fills a control's grad as if its law alone held: the duty that it would ask
// for by every parameter, the other controls' duties among them.
func (s *Solver) lawRow(c *search) {
	ctl := c.ctl
	pair(s.sense, s.c.pos[ctl.Plus], s.c.pos[ctl.Minus])
	s.c.prog.transposed(s.val, s.sense)
	clear(c.grad)
	s.accumulate(s.sense, c.grad)
	_, dv := s.lawOf(c)
	ctl.Law.Grad(s.V(ctl.Plus, ctl.Minus), c.lawP, c.lawGrad)
	for i := range c.grad {
		c.grad[i] *= dv
	}
	for i, p := range ctl.LawParams {
		c.grad[p] += c.lawGrad[i]
	}
}

// resolve takes a control's own duty out of its row, and then out of the others'.
func (s *Solver) resolve(c *search) {
	at := c.ctl.Param
	scale := 1 / (1 - c.grad[at])
	c.grad[at] = 0
	for i := range c.grad {
		c.grad[i] *= scale
	}
	for o := s.search; o != nil; o = o.inner {
		by := o.grad[at]
		if o == c || by == 0 {
			continue
		}
		o.grad[at] = 0
		for i, g := range c.grad {
			o.grad[i] += by * g
		}
	}
}

// accumulate adds -lamᵀ dF/dp to out.
func (s *Solver) accumulate(lam, out []float64) {
	for k := range s.c.res {
		r := &s.c.res[k]
		g := s.g[k]
		dl := at(lam, r.a) - at(lam, r.b)
		if dl != 0 {
			out[r.p] += dl * g * g * (at(s.X, r.a) - at(s.X, r.b))
		}
	}
	core := lam[s.c.ni:]
	for k := range s.c.devs {
		d := &s.c.devs[k]
		lg := s.devGrad(d)
		for i, gi := range d.x {
			l := at(core, gi)
			if l == 0 {
				continue
			}
			for q, p := range d.params {
				out[p] -= l * lg[i*d.np+q]
			}
		}
	}
}

// accumulateBoth is accumulate for two.
func (s *Solver) accumulateBoth(lamA, lamB, outA, outB []float64) {
	for k := range s.c.res {
		r := &s.c.res[k]
		da, db := at(lamA, r.a)-at(lamA, r.b), at(lamB, r.a)-at(lamB, r.b)
		if da != 0 || db != 0 {
			g, dx := s.g[k], at(s.X, r.a)-at(s.X, r.b)
			outA[r.p] += da * g * g * dx // in this order, as for one
			outB[r.p] += db * g * g * dx
		}
	}
	coreA, coreB := lamA[s.c.ni:], lamB[s.c.ni:]
	for k := range s.c.devs {
		d := &s.c.devs[k]
		lg := s.devGrad(d)
		for i, gi := range d.x {
			a, b := at(coreA, gi), at(coreB, gi)
			if a == 0 && b == 0 {
				continue
			}
			row := lg[i*d.np : (i+1)*d.np]
			for q, p := range d.params {
				outA[p] -= a * row[q]
				outB[p] -= b * row[q]
			}
		}
	}
}

// devGrad is a device's dF/dp at the present x. After a solve it is computed once
// and kept for all readings of that solve.
func (s *Solver) devGrad(d *devStamp) []float64 {
	lg := s.lg[d.g : d.g+d.n*d.np]
	if s.graded {
		return lg
	}
	lx, lp := s.gather(d, s.x)
	clear(lg)
	d.dev.Grad(lx, lp, lg)
	return lg
}

// grade computes what devGrad keeps.
func (s *Solver) grade() {
	if s.graded {
		return
	}
	for k := range s.c.devs {
		s.devGrad(&s.c.devs[k])
	}
	s.graded = true
}

// at is an unknown's entry, 0 for the reference.
func at(v []float64, i int32) float64 {
	if i < 0 {
		return 0
	}
	return v[i]
}

// paramDot is -lamᵀ dF/dp for one parameter that a device owns; lam is of the
// core.
func (s *Solver) paramDot(lam []float64, p Param) float64 {
	sum := 0.0
	for k := range s.c.devs {
		d := &s.c.devs[k]
		for q, own := range d.params {
			if own != p {
				continue
			}
			lg := s.devGrad(d)
			for i, gi := range d.x {
				if gi >= 0 {
					sum -= lam[gi] * lg[i*d.np+q]
				}
			}
		}
	}
	return sum
}

// DutyOf returns d(duty)/d(parameter) of the last solve, nil where the network
// is not controlled. The slice belongs to the solver.
func (s *Solver) DutyOf() []float64 {
	if s.ctl == nil {
		return nil
	}
	s.prepareSense()
	return s.grad
}

// Transfer returns the voltage from plus to minus per ampere driven from the
// node out into the node in [Ohm], in a network of resistors only, and adds its
// derivatives with respect to the resistances to grad (nil to skip). It uses
// the factors of the last Solve.
func (s *Solver) Transfer(in, out, plus, minus Node, grad []float64) float64 {
	x, lam := s.whole, s.sense
	s.senseFresh = false
	pair(x, s.c.pos[in], s.c.pos[out])
	pair(lam, s.c.pos[plus], s.c.pos[minus])
	s.c.prog.solve(s.val, x)
	z := at(x, s.c.pos[plus]) - at(x, s.c.pos[minus])
	if grad == nil {
		return z
	}
	s.c.prog.transposed(s.val, lam)
	for k := range s.c.res {
		r := &s.c.res[k]
		g := s.g[k]
		grad[r.p] += g * g * (at(lam, r.a) - at(lam, r.b)) * (at(x, r.a) - at(x, r.b))
	}
	return z
}

// pair fills v with +1 at one unknown and -1 at another; negative is the
// reference.
func pair(v []float64, plus, minus int32) {
	clear(v)
	if plus >= 0 {
		v[plus]++
	}
	if minus >= 0 {
		v[minus]--
	}
}
