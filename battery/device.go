package battery

import (
	"math"

	"chargewright/internal/smooth"
)

// Size returns two terminals (plus, minus), one unknown (the current of the
// main reaction [A], positive when charging) and the parameters.
func (m Model) Size() (terminals, unknowns, params int) { return 2, 1, Params }

// positions in x and f
const (
	plus = iota
	minus
	main
	size
)

// branch is the voltage across the main reaction beyond the rested one, at
// current i, with its pieces for the derivatives.
type branch struct {
	h, dh  float64 // charging part of i [A] and its slope
	volts  float64 // [V]
	slope  float64 // dV/di [Ohm]
	ratio  float64 // h over the exchange current
	root   float64 // sqrt(1 + ratio^2)
	asinh  float64
	ohmic  float64 // volts per ohm of r [A]
	dohmic float64
}

// main branch: V = OCV + r (1.5 i - 0.5 h) + vc asinh(h/ic). Discharging h is
// nothing and the slow half of the resistance counts; charging h is i and the
// polarisation takes its place. The slope is at least 0.5 r: it never vanishes.
func (s state) branch(i float64) branch {
	var b branch
	b.h, b.dh = smooth.Ramp(i, branchWidth)
	b.ohmic = (1+slowShare)*i - slowShare*b.h
	b.dohmic = 1 + slowShare - slowShare*b.dh
	b.ratio = b.h / s.ic.v
	b.root = math.Sqrt(1 + b.ratio*b.ratio)
	b.asinh = math.Asinh(b.ratio)
	b.volts = s.r.v*b.ohmic + s.vc.v*b.asinh
	b.slope = s.r.v*b.dohmic + s.vc.v*b.dh/(s.ic.v*b.root)
	return b
}

// gassing is the shunt's multiple of its current at gassingVolts, and the slope
// by volts. A dead cell takes no volts, so the others gas the sooner.
func (m Model) gassing(s state, volts float64) (y, dv float64) {
	fold := gassingFold * m.scale()
	x := (volts + s.loss - gassingVolts*m.scale()) / fold
	e, de := expTo(x, (gassingTop-gassingVolts)/gassingFold)
	return e, de / fold
}

// Figures implements circuit.Preparer: the coefficients that Stamp needs.
func (m Model) Figures() int { return 7 }

// Prepare implements circuit.Preparer.
func (m Model) Prepare(p, k []float64) {
	s := m.at(p)
	k[0], k[1], k[2], k[3], k[4], k[5], k[6] = s.ocv.v, s.r.v, s.vc.v, s.ic.v, s.gas.v, s.offset, s.loss
}

// prepared is at without derivatives, from the figures behind the parameters
// where they are there.
func (m Model) prepared(p []float64) (s state) {
	if len(p) <= Params {
		return m.at(p)
	}
	k := p[Params:]
	s.ocv.v, s.r.v, s.vc.v, s.ic.v, s.gas.v, s.offset, s.loss = k[0], k[1], k[2], k[3], k[4], k[5], k[6]
	return s
}

// Stamp writes the terminal currents and the branch residual
// V - OCV - V_branch(i) = 0.
func (m Model) Stamp(x, p, f, jac []float64) {
	s := m.prepared(p)
	v, i := x[plus]-x[minus], x[main]
	b := s.branch(i)
	g, dg := m.gassing(s, v)
	f[plus] = i + s.gas.v*g
	f[minus] = -f[plus]
	f[main] = v - s.ocv.v - s.offset - b.volts
	put := func(row int, dv, di float64) {
		jac[row*size+plus], jac[row*size+minus], jac[row*size+main] = dv, -dv, di
	}
	put(plus, s.gas.v*dg, 1)
	put(minus, -s.gas.v*dg, -1)
	put(main, 1, -b.slope)
}

// Grad writes the derivatives of Stamp's f by the parameters.
func (m Model) Grad(x, p, dfdp []float64) {
	s := m.at(p)
	b := s.branch(x[main])
	g, dg := m.gassing(s, x[plus]-x[minus])
	put := func(param int, gas, residual float64) {
		dfdp[plus*Params+param] = gas
		dfdp[minus*Params+param] = -gas
		dfdp[main*Params+param] = residual
	}
	dic := -s.vc.v * b.ratio / (s.ic.v * b.root) // dV by the exchange current
	put(SoC, 0, -(s.ocv.soc + s.r.soc*b.ohmic + dic*s.ic.soc))
	put(R0, 0, -s.r.r0*b.ohmic)
	put(Sulphation, 0, -(s.r.sulph*b.ohmic + s.vc.sulph*b.asinh))
	put(CellLoss, s.gas.v*dg, 1)
	put(Surface, 0, -1)
	put(Temperature, s.gas.temp*g, -(s.r.temp*b.ohmic + dic*s.ic.temp))
	put(Capacity, s.gas.capacity*g, -dic*s.ic.capacity)
}
