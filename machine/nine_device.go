package machine

import "math"

// Stamp implements circuit.Device.
func (m *NineDiode) Stamp(x, p, f, jac []float64) {
	var s state
	m.solve(&s, x, p)
	const n = nineSize
	v := x[Stud] - x[Case]
	g, dg := leak(s.emf)
	f[Stud] = g*v - s.stud.v - p[Beside]
	into := s.stud.chain(f[Stud], -1)
	into.d[byVolts] += g
	into.d[byEMF] += dg * v
	s.row(jac[Stud*n:], &into)

	f[DPlus] = dplusLeak*(x[DPlus]-x[Case]) - x[DPlusAmps]
	jac[DPlus*n+DPlus], jac[DPlus*n+Case], jac[DPlus*n+DPlusAmps] = dplusLeak, -dplusLeak, -1

	f[Case] = -f[Stud] - f[DPlus]
	for k := range n {
		jac[Case*n+k] = -jac[Stud*n+k] - jac[DPlus*n+k]
	}

	f[DPlusAmps] = s.residual.v
	s.row(jac[DPlusAmps*n:], &s.residual)
	jac[DPlusAmps*n+DPlus] += s.byVolts
	jac[DPlusAmps*n+Case] -= s.byVolts

	field := x[NineFieldAmps]
	f[RingA], f[RingB] = field, -field
	jac[RingA*n+NineFieldAmps], jac[RingB*n+NineFieldAmps] = 1, -1
	turn, dturn := side(field)
	f[NineFieldAmps] = x[RingA] - x[RingB] - p[RotorOhms]*field - p[BrushVolts]*turn
	jac[NineFieldAmps*n+RingA], jac[NineFieldAmps*n+RingB] = 1, -1
	jac[NineFieldAmps*n+NineFieldAmps] = -p[RotorOhms] - p[BrushVolts]*dturn
}

// row writes a dual's derivatives by the unknowns into a row of the Jacobian.
func (s *state) row(row []float64, a *dual) {
	row[Stud] += a.d[byVolts]
	row[Case] -= a.d[byVolts]
	row[NineFieldAmps] += a.d[byEMF] * s.emfField
	row[DPlusAmps] += a.d[byDPlus]
}

// Grad implements circuit.Device.
func (m *NineDiode) Grad(x, p, dfdp []float64) {
	var s state
	m.solve(&s, x, p)
	v := x[Stud] - x[Case]
	_, dg := leak(s.emf)
	into := s.stud.chain(0, -1)
	into.d[byEMF] += dg * v
	for k := range NumParams {
		d := s.byParam(&into, p, k)
		dfdp[Stud*NumParams+k], dfdp[Case*NumParams+k] = d, -d
		dfdp[DPlusAmps*NumParams+k] = s.byParam(&s.residual, p, k)
	}
	dfdp[Stud*NumParams+Beside], dfdp[Case*NumParams+Beside] = -1, 1
	dfdp[DPlusAmps*NumParams+DPlusBeside] = -s.byVolts
	dfdp[DPlusAmps*NumParams+DPlusOff] = -s.byVolts * s.told
	turn, _ := side(x[NineFieldAmps])
	dfdp[NineFieldAmps*NumParams+RotorOhms] = -x[NineFieldAmps]
	dfdp[NineFieldAmps*NumParams+BrushVolts] = -turn
}

// byParam is a dual's derivative by a parameter.
func (s *state) byParam(a *dual, p []float64, k int) float64 {
	d := a.d[byEMF] * s.emfParam[k]
	turn := s.omega / s.wEff * p[Inductance] * a.d[byReactance]
	switch k {
	case Omega:
		d += turn * (1 - p[Slip])
	case Slip:
		d -= turn * p[Omega]
	case Inductance:
		d += s.wEff * a.d[byReactance]
	case StatorOhms:
		d += a.d[byOhms]
	}
	return d
}

// Ripple returns an output of the output current [A] as Alternator.Ripple does,
// with derivatives by x (7) and p. The current at D+ moves the mean only.
func (m *NineDiode) Ripple(x, p []float64, which Output, dx, dp []float64) float64 {
	var s state
	if which == Mean {
		m.solve(&s, x, p)
	} else {
		s.omega = m.a.excite(&s.output, x[NineFieldAmps], p)
		s.wEff = math.Sqrt(s.omega*s.omega + minOmega*minOmega)
		c := m.a.current(which, m.pattern(p).Output(), x[Stud]-x[Case], s.emf, s.wEff*p[Inductance], p[StatorOhms])
		s.stud = dual{v: c.amps, d: [dualSize]float64{c.byVolts, c.byEMF, c.byReactance, c.byOhms, 0}}
	}
	if dx != nil {
		clear(dx)
		s.row(dx, &s.stud)
	}
	for k := range dp {
		dp[k] = s.byParam(&s.stud, p, k)
	}
	return s.stud.v
}

// RippleOhms is the machine's impedance to its own ripple [Ohm].
func (m *NineDiode) RippleOhms(p []float64) float64 { return rippleOhms[m.pattern(p).Output()] }

// EMF returns the peak line-to-neutral EMF [V] and the electrical speed after
// belt slip [rad/s].
func (m *NineDiode) EMF(x, p []float64) (volts, omega float64) {
	phi, _, _ := flux(x[NineFieldAmps], p[Turns], p[Residual], m.a.knee, m.a.sat)
	omega = p[Omega] * (1 - p[Slip])
	return p[Flux] * omega * phi, omega
}

// Ratio returns E/V_o', as Alternator.Ratio does.
func (m *NineDiode) Ratio(x, p []float64) float64 {
	e, _ := m.EMF(x, p)
	return math.Abs(e) / (x[Stud] - x[Case] + 2*m.a.drop)
}

// Build returns the point as Run takes it, with the stud held and the current of
// D+ drawn there. Run it only where EMF is above zero.
func (m *NineDiode) Build(x, p []float64) (Build, error) {
	e, w := m.EMF(x, p)
	b := Build{
		EMF: math.Abs(e), Omega: w, Ohms: p[StatorOhms], Henries: p[Inductance],
		Volts: x[Stud] - x[Case], Diode: m.a.diode, Field: &FieldSide{Diode: m.small, Amps: x[DPlusAmps]},
	}
	for _, el := range m.pattern(p).Elements() {
		if err := b.Changes.Apply(el); err != nil {
			return Build{}, err
		}
	}
	return b, nil
}
