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

// Diode is a junction behind a series resistance: i = Is (exp(vj/nVt) - 1),
// Shockley's law. Terminals anode, cathode; parameters Is [A], nVt [V], series
// ohms [Ohm].
//
// Its own unknown w is the junction voltage up to the one at 1 A; from there the
// current goes on straight in w and the voltage follows from it, C1. So neither
// is ever an exponential of a wild guess, and Newton gets from flat to any
// current in a few steps (the choice of voltage or current as the unknown is the
// simulators' old remedy; this way of joining them is our own).
type Diode struct{}

// Size implements Device.
func (Diode) Size() (terminals, unknowns, params int) { return 2, 1, 3 }

// turn is the junction current at which the unknown turns from a voltage into a
// current [A]; a diode of a larger saturation current turns at that.
const turn = 1.0

// junction is a diode's junction at w: its voltage and current, their slopes, and
// their derivatives by Is and nVt at the same w.
type junction struct {
	v, i, dv, di float64
	vIs, vN      float64
	iIs, iN      float64
}

func junctionAt(w, is, n float64) (j junction) {
	top := math.Max(turn, is)
	corner := n * math.Log1p(top/is)
	if w <= corner {
		e := math.Exp(w / n)
		return junction{
			v: w, i: is * math.Expm1(w/n), dv: 1, di: is * e / n,
			iIs: math.Expm1(w / n), iN: -is * e * w / (n * n),
		}
	}
	g := (top + is) / n // slope at the corner
	dcIs, dcN := -n*top/(is*(top+is)), corner/n
	dgIs, dgN := 1/n, -g/n
	if is > turn { // the corner's current moves with Is
		dcIs, dgIs = 0, 2/n
		j.iIs = 1
	}
	j.i = top + g*(w-corner)
	j.di = g
	j.iIs += dgIs*(w-corner) - g*dcIs
	j.iN = dgN*(w-corner) - g*dcN
	j.v = n * math.Log1p(j.i/is)
	by := n / (j.i + is) // dv by i
	j.dv = by * j.di
	j.vIs = by*j.iIs - by*j.i/is
	j.vN = by*j.iN + j.v/n
	return j
}

// Stamp implements Device.
func (Diode) Stamp(x, p, f, jac []float64) {
	gs := 1 / p[2]
	j := junctionAt(x[2], p[0], p[1])
	i := (x[0] - x[1] - j.v) * gs
	f[0], f[1], f[2] = i, -i, i-j.i
	dw := -gs * j.dv
	jac[0], jac[1], jac[2] = gs, -gs, dw
	jac[3], jac[4], jac[5] = -gs, gs, -dw
	jac[6], jac[7], jac[8] = gs, -gs, dw-j.di
}

// Grad implements Device.
func (Diode) Grad(x, p, dfdp []float64) {
	gs := 1 / p[2]
	j := junctionAt(x[2], p[0], p[1])
	dr := -(x[0] - x[1] - j.v) * gs * gs
	dis, dn := -gs*j.vIs, -gs*j.vN
	dfdp[0], dfdp[1], dfdp[2] = dis, dn, dr
	dfdp[3], dfdp[4], dfdp[5] = -dis, -dn, -dr
	dfdp[6], dfdp[7], dfdp[8] = dis-j.iIs, dn-j.iN, dr
}
