package main

import (
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"testing"
	"testing/fstest"

	"chargewright/machine"
)

// The checked-in tables are what today's sources make: the hash in their header
// is that of the sources, the grid is today's, and 48 random points solved anew
// agree.
// golden: tables/*.tab, made by this program.
func TestTablesAreFresh(t *testing.T) {
	source, err := sourceHash(os.DirFS(".."))
	if err != nil {
		t.Fatal(err)
	}
	shipped, err := machine.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 1))
	for p := range machine.NumPatterns {
		tb := shipped[p]
		if tb.Pattern != p {
			continue
		}
		if tb.Source != source {
			t.Errorf("%v: made by other sources than today's: run go generate ./machine", p)
		}
		if g := machine.GridOf(p); !reflect.DeepEqual(g, tb.Grid) {
			t.Errorf("%v: grid %+v, today's is %+v", p, tb.Grid, g)
		}
		for range 7 {
			comparePoint(t, tb, rng)
		}
	}
}

// comparePoint solves a random grid point. On the machine that made the tables
// the two agree to the seventh digit; elsewhere the compiler may fuse multiply
// and add, and the periodic solution is sought to 1e-5 of the short-circuit
// current, which is 1 in the table's units: 1e-5 is 0.5 mA of a 40 A machine.
func comparePoint(t *testing.T, tb *machine.Table, rng *rand.Rand) {
	t.Helper()
	g := tb.Grid
	ik, id, iu, iy := rng.IntN(len(g.Knees)), rng.IntN(len(g.Drops)), rng.IntN(g.NU), rng.IntN(g.NY)
	u, y := g.Point(iu, iy)
	out, err := machine.TablePoint(tb.Pattern, u, y, g.Knees[ik], g.Drops[id], g.Steps)
	if err != nil {
		t.Fatal(err)
	}
	plane := ik*len(g.Drops) + id
	for o, want := range out {
		got := float64(tb.Values[((plane*int(machine.NumOutputs)+o)*g.NU+iu)*g.NY+iy])
		if math.Abs(got-want) > 1e-5 {
			t.Errorf("%v %v at u %.4g y %.4g: table %.7f, solved anew %.7f", tb.Pattern, machine.Output(o), u, y, got, want)
		}
	}
}

// A hash of tokens moves with code and stands still with comments and layout.
// closed form: that is its definition.
func TestSourceHash(t *testing.T) {
	hash := func(body string) string {
		fsys := fstest.MapFS{}
		for _, name := range sources {
			fsys[name] = &fstest.MapFile{Data: []byte("package x\n" + body)}
		}
		h, err := sourceHash(fsys)
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	base := hash("const a = 1\n")
	if hash("// why\nconst   a = 1 // here\n") != base {
		t.Error("a comment moves the hash")
	}
	if hash("const a = 2\n") == base {
		t.Error("a number does not move the hash")
	}
	if _, err := sourceHash(fstest.MapFS{}); err == nil {
		t.Error("missing sources go unnoticed")
	}
}

func TestRound7(t *testing.T) {
	for _, c := range [][2]float64{{0.123456789, 0.1234568}, {9.9e-7, 0}, {-9.9e-7, 0}, {12.3456789, 12.34568}} {
		if got := round7(c[0]); got != float32(c[1]) {
			t.Errorf("%v becomes %v, want %v", c[0], got, c[1])
		}
	}
}
