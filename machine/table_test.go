package machine

import (
	"bytes"
	"math"
	"strings"
	"testing"
)

// A table file is read back to the same bytes, and what is broken is refused.
func TestTableFileRoundTrip(t *testing.T) {
	data, err := tableFiles.ReadFile("tables/" + TableFile(DiodeShort))
	if err != nil {
		t.Fatal(err)
	}
	tb, err := ParseTable(data)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(tb.Encode(), data) {
		t.Error("reading and writing changes the file")
	}
	broken := map[string][]byte{
		"another file":           []byte("something\n\n"),
		"half a file":            data[:len(data)-1000],
		"an odd length":          data[:len(data)-1],
		"an unknown key":         bytes.Replace(data, []byte("\nsolver "), []byte("\nsolved "), 1),
		"a wrong pattern":        bytes.Replace(data, []byte("pattern diode-short"), []byte("pattern diode-sh0rt"), 1),
		"outputs in other order": bytes.Replace(data, []byte("mean order-1"), []byte("order-1 mean"), 1),
		"two planes":             bytes.Replace(data, []byte("drops 0.03 0.055 0.1"), []byte("drops 0.03 0.055    "), 1),
	}
	for what, d := range broken {
		if _, err := ParseTable(d); err == nil {
			t.Errorf("%s is accepted", what)
		}
	}
}

// closed form: a cubic B-spline with not-a-knot ends reproduces any cubic, and
// with a slope given at its last end one that has this slope.
func TestSplineReproducesCubics(t *testing.T) {
	f := func(x float64) float64 { return 2 - x + 0.3*x*x - 0.02*x*x*x }
	df := func(x float64) float64 { return -1 + 0.6*x - 0.06*x*x }
	const n = 9
	y := make([]float64, n)
	for i := range y {
		y[i] = f(float64(i))
	}
	slope := df(n - 1)
	for _, c := range [][]float64{splineCoefficients(y, nil), splineCoefficients(y, &slope)} {
		for x := 0.0; x <= n-1; x += 0.17 {
			i, b, d := stencil(x, n)
			var v, dv float64
			for k := range 4 {
				v += b[k] * c[i+k]
				dv += d[k] * c[i+k]
			}
			if math.Abs(v-f(x)) > 1e-12 || math.Abs(dv-df(x)) > 1e-12 {
				t.Errorf("at %v: %v slope %v, closed form %v %v", x, v, dv, f(x), df(x))
			}
		}
	}
}

// The spline passes through the table's own points.
func TestTablePassesThroughItsPoints(t *testing.T) {
	tables, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for p := range NumPatterns {
		tb := tables[p]
		g := tb.Grid
		for ik, knee := range g.Knees {
			for id, drop := range g.Drops {
				for iu := 0; iu < g.NU; iu += 5 {
					for iy := 0; iy < g.NY; iy += 4 {
						u, y := g.Point(iu, iy)
						v, _ := tb.at(Mean, u, math.Log(y), math.Log(knee), math.Log(drop))
						plane := ik*len(g.Drops) + id
						want := float64(tb.Values[(plane*int(NumOutputs)*g.NU+iu)*g.NY+iy])
						if math.Abs(v.f-want) > 1e-9 {
							t.Errorf("%v at u %v y %v: %v, stored %v", p, u, y, v.f, want)
						}
					}
				}
			}
		}
	}
}

// Around cut-in the spline may swing below zero, by no more than
// docs/models/machine.md says: 0.001 of the short-circuit current (0.05 A of a
// 40 A machine), peak to peak 0.004; the mean of an unbypassed bridge 0.0001.
func TestTablesAreNotNegative(t *testing.T) {
	tables, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for p := range NumPatterns {
		tb := tables[p]
		for o := range NumOutputs {
			floor := 1e-3
			switch {
			case o == PeakToPeak:
				floor = 4e-3
			case o == Mean && !p.shorted():
				floor = 1e-4
			}
			for u := tb.Grid.U[0]; u < tb.Grid.U[1]; u += 0.013 {
				for s := tb.logY[0]; s < tb.logY[1]; s += 0.11 {
					for _, knee := range []float64{0.08, 0.2, 1} {
						if v, _ := tb.at(o, u, s, math.Log(knee), math.Log(0.05)); v.f < -floor {
							t.Errorf("%v %v: %v at u %v y %v", p, o, v.f, u, math.Exp(s))
						}
					}
				}
			}
		}
	}
}

// The netlist names every changed element.
func TestNetlistHoldsEveryChange(t *testing.T) {
	c := fullField(Healthy, 2875, 15)
	c.Bridge = Bridge{Between: 10, PhaseOhms: [3]float64{0, 0, 0.5}}
	c.Bridge.Open[BPlus], c.Bridge.Across[CMinus], c.Bridge.Earth[1], c.Bridge.PhaseOpen[0] = true, 2, 4, true
	text := c.Netlist("changes", "out.txt", 2, 100)
	for _, want := range []string{"Rab a b 0.1", "Rc c2 c 0.62", "Rcm c 0 0.5", "Rbe b 0 0.25", "Ra a2 a 1e+09", " uic\n"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if strings.Contains(text, "Dbp") {
		t.Error("an open diode is in the netlist")
	}
}
