package main

import (
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"testing"

	"chargewright/machine"
)

// The checked-in tables are what today's sources make: the hash in their header
// is that of the sources, the grid is today's, and random points solved anew agree.
// golden: tables/part-*.tab, made by this program.
func TestTablesAreFresh(t *testing.T) {
	hash, err := sourceHash(os.DirFS("../.."))
	if err != nil {
		t.Fatal(err)
	}
	shipped, err := machine.ShippedParts()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 1))
	g := machine.PartGrid
	for i, p := range machine.PartPatterns {
		tb := shipped[i]
		if tb.Source != hash {
			t.Errorf("%v: made by other sources than today's: run go generate ./machine", p)
		}
		if !reflect.DeepEqual(g, tb.Grid) || tb.NS != machine.PartSteps(p) {
			t.Errorf("%v: grid %+v by %d, today's is %+v by %d", p, tb.Grid, tb.NS, g, machine.PartSteps(p))
		}
		between := tb.NS - 2
		for range 3 {
			iu, iy := rng.IntN(g.NU), rng.IntN(g.NY)
			u, y := g.Point(iu, iy)
			steps, err := machine.PartPoint(p, u, y)
			if err != nil {
				t.Fatal(err)
			}
			for k, out := range steps {
				for o, want := range out {
					// The periodic solution is sought to 1e-5 of the short-circuit current;
					// three of them are in a figure.
					if got := float64(tb.Values[((o*between+k)*g.NU+iu)*g.NY+iy]); math.Abs(got-want) > 3e-5 {
						t.Errorf("%v %v step %d at u %.4g y %.4g: table %.7f, solved anew %.7f", p, machine.Output(o), k, u, y, got, want)
					}
				}
			}
		}
	}
}
