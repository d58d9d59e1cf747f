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

// The checked-in D+ tables are what today's sources make: the hash in their
// header is that of the sources, the grid is today's, and 22 random points solved
// anew agree.
// golden: tables/dplus-*.tab, made by this program.
func TestTablesAreFresh(t *testing.T) {
	source, err := sourceHash(os.DirFS("../.."))
	if err != nil {
		t.Fatal(err)
	}
	shipped, err := machine.ShippedDPlus()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 1))
	g := machine.DPlusGrid
	for p := range machine.NumNinePatterns {
		tb := shipped[p]
		if tb.Source != source {
			t.Errorf("%v: made by other sources than today's: run go generate ./machine", p)
		}
		want := g
		want.Knees, want.RefAmps = tb.Grid.Knees, tb.Grid.RefAmps // not in these files
		if !reflect.DeepEqual(want, tb.Grid) {
			t.Errorf("%v: grid %+v, today's is %+v", p, tb.Grid, want)
		}
		for range 2 {
			iu, iy := rng.IntN(g.NU), rng.IntN(g.NY)
			u, y := g.Point(iu, iy)
			out, err := machine.DPlusPoint(p, u, y, g.Steps)
			if err != nil {
				t.Fatal(err)
			}
			for o, want := range out {
				// The periodic solution is sought to 1e-5 of the short-circuit current;
				// slope and share are differences over a twentieth of it.
				if got := float64(tb.Values[(o*g.NU+iu)*g.NY+iy]); math.Abs(got-want) > 2e-3 {
					t.Errorf("%v %v at u %.4g y %.4g: table %.6f, solved anew %.6f", p, machine.DPlusOutput(o), u, y, got, want)
				}
			}
		}
	}
}

// A hash of tokens moves with code and stands still with comments.
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
	if hash("// why\nconst   a = 1\n") != hash("const a = 1\n") || hash("const a = 2\n") == hash("const a = 1\n") {
		t.Error("the hash moves with a comment, or does not with a number")
	}
	if _, err := sourceHash(fstest.MapFS{}); err == nil {
		t.Error("missing sources go unnoticed")
	}
}
