package circuit

import "math"

// EMF is an ideal voltage behind a resistance: terminals plus, minus;
// parameters volts [V] and ohms [Ohm].
type EMF struct{}

// Size implements Device.
func (EMF) Size() (terminals, unknowns, params int) { return 2, 0, 2 }

// Stamp implements Device.
func (EMF) Stamp(x, p, f, jac []float64) {
	g := 1 / p[1]
	i := (x[0] - x[1] - p[0]) * g
	f[0], f[1] = i, -i
	jac[0], jac[1], jac[2], jac[3] = g, -g, -g, g
}

// Grad implements Device.
func (EMF) Grad(x, p, dfdp []float64) {
	g := 1 / p[1]
	di := -(x[0] - x[1] - p[0]) * g * g
	dfdp[0], dfdp[1] = -g, di
	dfdp[2], dfdp[3] = g, -di
}

// Source is a current that flows out of its first terminal and into its
// second; parameter amps [A].
type Source struct{}

// Size implements Device.
func (Source) Size() (terminals, unknowns, params int) { return 2, 0, 1 }

// Stamp implements Device.
func (Source) Stamp(_, p, f, _ []float64) { f[0], f[1] = -p[0], p[0] }

// Grad implements Device.
func (Source) Grad(_, _, dfdp []float64) { dfdp[0], dfdp[1] = -1, 1 }

// Diode is a junction behind a series resistance: i = Is (exp(vj/nVt) - 1).
// Terminals anode, cathode; own unknown the junction voltage; parameters Is [A],
// nVt [V], series ohms [Ohm]. Shockley's law; above vCap the exponential goes
// on as its tangent, so that a wild guess cannot overflow.
type Diode struct{}

// Size implements Device.
func (Diode) Size() (terminals, unknowns, params int) { return 2, 1, 3 }

const diodeCap = 60 // exponent at which the tangent takes over: 1e17 A, never at a solution

func junction(vj, is, nvt float64) (i, g, dis, dnvt float64) {
	a := vj / nvt
	if a > diodeCap {
		e := math.Exp(diodeCap)
		over := 1 + a - diodeCap
		return is * (e*over - 1), is * e / nvt, e*over - 1, -is * e * vj / (nvt * nvt)
	}
	e := math.Exp(a)
	return is * (e - 1), is * e / nvt, e - 1, -is * e * vj / (nvt * nvt)
}

// Stamp implements Device.
func (Diode) Stamp(x, p, f, jac []float64) {
	gs := 1 / p[2]
	i := (x[0] - x[1] - x[2]) * gs
	ij, gj, _, _ := junction(x[2], p[0], p[1])
	f[0], f[1], f[2] = i, -i, i-ij
	jac[0], jac[1], jac[2] = gs, -gs, -gs
	jac[3], jac[4], jac[5] = -gs, gs, gs
	jac[6], jac[7], jac[8] = gs, -gs, -gs-gj
}

// Grad implements Device.
func (Diode) Grad(x, p, dfdp []float64) {
	gs := 1 / p[2]
	dr := -(x[0] - x[1] - x[2]) * gs * gs
	_, _, dis, dn := junction(x[2], p[0], p[1])
	dfdp[2], dfdp[5] = dr, -dr
	dfdp[6], dfdp[7], dfdp[8] = -dis, -dn, dr
}
