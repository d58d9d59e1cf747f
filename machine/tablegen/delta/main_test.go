package main

import (
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"testing"

	"chargewright/machine"
)

// The checked-in table is what today's sources make, and random points solved anew
// agree.
// golden: tables/delta-winding-open.tab, made by this program.
func TestTableIsFresh(t *testing.T) {
	hash, err := sourceHash(os.DirFS("../.."))
	if err != nil {
		t.Fatal(err)
	}
	tb, err := machine.ShippedDelta()
	if err != nil {
		t.Fatal(err)
	}
	if tb.Source != hash {
		t.Error("made by other sources than today's: run go generate ./machine")
	}
	g := machine.DeltaGrid()
	if !reflect.DeepEqual(g, tb.Grid) || tb.Pattern != machine.DeltaWindingOpen {
		t.Errorf("%v, grid %+v, today's is %+v", tb.Pattern, tb.Grid, g)
	}
	rng := rand.New(rand.NewPCG(3, 1))
	for range 10 {
		ik, iu, iy := rng.IntN(len(g.Knees)), rng.IntN(g.NU), rng.IntN(g.NY)
		u, y := g.Point(iu, iy)
		out, err := machine.DeltaPoint(u, y, g.Knees[ik], g.Drops[0], g.Steps)
		if err != nil {
			t.Fatal(err)
		}
		for o, want := range out {
			// As the bridge tables' test has it.
			if got := float64(tb.Values[((ik*int(machine.NumOutputs)+o)*g.NU+iu)*g.NY+iy]); math.Abs(got-want) > 1e-5 {
				t.Errorf("%v at u %.4g y %.4g: table %.7f, solved anew %.7f", machine.Output(o), u, y, got, want)
			}
		}
	}
}
