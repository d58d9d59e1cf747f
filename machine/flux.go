package machine

import "math"

// turnsWidth rounds the flux's corner at zero ampere-turns [A of field current].
const turnsWidth = 0.01

// flux returns the magnitude of the air-gap flux as a fraction of the flux at
// the knee current, and its derivative with respect to the field current i.
//
// Froehlich's curve (1+a)u/(1+a u) with u = i turns/knee, so that the knee
// current gives 1 [closed form: Froehlich 1881, textbook], plus residual flux.
// Residual flux takes the direction of the ampere-turns: reversing the field
// reverses both, which the output cannot show, so magnitudes add. |i| is
// rounded within turnsWidth to keep the curve smooth.
func flux(i, turns, residual, knee, a float64) (phi, dI, dTurns float64) {
	at := i * turns
	root := math.Sqrt(at*at + turnsWidth*turnsWidth)
	m := at * at / root
	dm := at * (at*at + 2*turnsWidth*turnsWidth) / (root * root * root)
	d := knee + a*m
	phi = (1+a)*m/d + residual
	slope := (1 + a) * knee / (d * d) * dm
	return phi, slope * turns, slope * i
}
