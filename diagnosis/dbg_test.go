package diagnosis

import (
	"fmt"
	"math"
	"testing"
)

func TestDbg(t *testing.T) {
	c := linearCar(t)
	b := add(t, begin(t, linearPrior(c, 0)), restVolts(c, 0.05, 13.6)...)
	inFull(&b)
	for i, h := range b.Hyps {
		k := h.Fits[0]
		fmt.Println(i, k.z, k.phi, k.j[0], k.logEv)
	}
	f := newFitter(&b)
	f.h = &b.Hyps[0]
	for _, z := range []float64{-4, -2, -1, 0, 1, 2} {
		zz := make([]float64, c.Model.Dims())
		for k := range c.Model.Coords {
			if c.Model.Coords[k].ID == "battery.surface" {
				zz[k] = z
			}
		}
		f.w.Begin()
		f.evaluate(b.Hyps[0].Fits[0].comp, zz, b.data, true)
		fmt.Println(z, f.h0[0], f.rows[0])
	}
	pr := Prior{Model: c.Model, Rates: map[string]float64{"first-high": 20, "second-high": 10}, NoFault: 70, Meters: c.Meters, Settings: DefaultSettings(), Look: looks(c)}
	pr.Settings.NonePrior, pr.Settings.PairPrior, pr.Settings.Flip = 0, 0, math.Inf(-1)
	b = begin(t, pr)
	y := []float64{1 + 5e-6, 2.01, 2 + 1e-5}
	for i, s := range [][2]string{{"p1", "p2"}, {"p1", "p3"}, {"p2", "p4"}} {
		b = add(t, b, ohms(c, s[0], s[1], y[i], 8e-6))
	}
	inFull(&b)
	for i, h := range b.Hyps {
		for _, k := range h.Fits {
			fmt.Println(i, k.bad, k.z, k.phi, k.logEv, k.loo, k.j)
		}
	}
}
