package prediction_test

import (
	"math"
	"slices"
	"testing"

	"chargewright/internal/sample"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// figure is one number of the system file that has a coordinate: what moves it
// by a share, and how much that is in z.
type figure struct {
	id   string
	z    int
	move func(s *system.System, share float64)
	inZ  func(share float64) float64
}

// figures lists every element and parameter of the file that is free.
func figures(m *prediction.Model) []figure {
	var out []figure
	for k, co := range m.Coords {
		for i, e := range m.Sys.Elements {
			if e.ID == co.ID {
				out = append(out, figure{
					co.ID, k, func(s *system.System, x float64) { s.Elements[i].Median *= 1 + x },
					func(x float64) float64 { return math.Log(1+x) / math.Log(e.Spread) },
				})
			}
		}
		for i, p := range m.Sys.Params {
			if p.ID == co.ID {
				out = append(out, figure{
					co.ID, k, func(s *system.System, x float64) { s.Params[i].Median = moved(p, x) },
					func(x float64) float64 { return zOf(p, moved(p, x)) },
				})
			}
		}
	}
	return out
}

// moved is a parameter's median moved by a share of itself; one that may be
// about zero (surface charge) moves by a share of its spread instead, and a
// regulated voltage by no more than one and a half of its spread.
func moved(p system.Param, x float64) float64 {
	by := p.Median * x
	if p.Law == "normal" && math.Abs(by) > 1.5*p.Spread {
		by = math.Copysign(1.5*p.Spread, by)
	}
	return p.Median + by
}

// zOf is how far a new median lies from the old one in the parameter's own law.
func zOf(p system.Param, median float64) float64 {
	switch p.Law {
	case "lognormal":
		return math.Log(median/p.Median) / math.Log(p.Spread)
	case "logit-normal":
		logit := func(v float64) float64 { return math.Log(v / (1 - v)) }
		return (logit(median) - logit(p.Median)) / p.Spread
	}
	return (median - p.Median) / p.Spread
}

// TestFiguresMoveAsTheAdjointSays moves every free figure of the system file by
// up to 20 % either way, compiles the file anew, and compares how far readings
// move with the adjoint of the untouched file.
//
// Size: the derivative along the way, integrated by Simpson's rule over 16
// panels, is how far the reading must move; what 8 panels say differently bounds
// the rule's own error (field limits are kinks in the derivative), plus 1e-6 of
// the move and of the meter. Sign and first order: the move differs from start
// derivative times distance by at most distance times the largest change of the
// derivative on the way (5 % for kinks between the panels).
//
// Here each figure is moved by one share up and another down, in turn; with
// CHARGEWRIGHT_ALL by all four.
func TestFiguresMoveAsTheAdjointSays(t *testing.T) {
	c := car(t)
	var asked []taken
	for _, id := range []string{"battery-rest-volts", "charge-volts", "loaded-output", "full-field-output", "field-draw", "drop-feed", "reg-pin-volts", "ac-volts", "rotor-ohms", "crank-volts"} {
		q, err := c.Question(id)
		if err != nil {
			t.Fatal(err)
		}
		a, err := c.Model.Ask(q)
		if err != nil {
			t.Fatal(err)
		}
		asked = append(asked, taken{a, slices.ContainsFunc(q.Setup.Hold, func(h question.Hold) bool { return h.What == "bank-amps" })})
	}
	w := c.Model.NewWorker()
	base := predict(t, w, asked, make([]float64, c.Model.Dims()))
	n := moves{t: t, base: base}
	for _, o := range base.obs {
		n.sd = append(n.sd, sdOf(c.Meters[o.Meter].Standard(string(o.Kind), base.v[len(n.sd)])))
	}
	for k, f := range figures(c.Model) {
		for _, share := range sample.Part([]float64{-0.2, -0.1, 0.1, 0.2}, k, 2) {
			sys := *c.Sys
			sys.Elements, sys.Params = slices.Clone(c.Sys.Elements), slices.Clone(c.Sys.Params)
			f.move(&sys, share)
			m, err := prediction.Compile(&sys)
			if err != nil {
				t.Fatalf("%s by %+.0f %%: %v", f.id, 100*share, err)
			}
			end := predict(t, m.NewWorker(), asked, make([]float64, c.Model.Dims()))
			n.check(f, share, end, along(t, w, asked, f.z, f.inZ(share)))
		}
	}
	t.Logf("%d moves of %d figures checked, %d of them plainly of one sign", n.checked, len(figures(c.Model)), n.signed)
	if n.signed < n.checked/5 {
		t.Errorf("only %d of %d moves were large enough to judge the sign", n.signed, n.checked)
	}
}

const panels = 16

// along reads the derivatives at the ends of the panels and their middles.
func along(t *testing.T, w *prediction.Worker, asked []taken, z int, d float64) []predicted {
	var out []predicted
	at := make([]float64, w.M.Dims())
	for k := range 2*panels + 1 {
		at[z] = d * float64(k) / (2 * panels)
		out = append(out, predict(t, w, asked, at))
	}
	return out
}

// moves holds what is checked of every move.
type moves struct {
	t               *testing.T
	base            predicted
	sd              []float64
	checked, signed int
}

func (n *moves) check(f figure, share float64, end predicted, way []predicted) {
	d := f.inZ(share)
	for i := range end.v {
		o := n.base.obs[i]
		if megohm(o, n.base.v[i]) {
			continue // an open path, known to 1e-7 of itself: see TestAdjointAgainstDifferences
		}
		if f.id == "bank.amps" && n.base.held[i] {
			continue // what is held by hand stands in the procedure, not in the file
		}
		n.checked++
		g0, change := n.base.rows[i][f.z], 0.0
		for _, p := range way {
			change = math.Max(change, math.Abs(p.rows[i][f.z]-g0))
		}
		got, fine, coarse := end.v[i]-n.base.v[i], simpson(way, i, f.z, 1)*d, simpson(way, i, f.z, 2)*d
		small := 1e-6 * (math.Abs(got) + n.sd[i])
		what := o.Note
		if math.Abs(got-fine) > math.Abs(fine-coarse)+small {
			n.t.Errorf("%s by %+.0f %%: %s moves by %.9g, the adjoint says %.9g (8 panels %.9g)", f.id, 100*share, what, got, fine, coarse)
		}
		bound := math.Abs(d) * change * 1.05
		if math.Abs(got-d*g0) > bound+small {
			n.t.Errorf("%s by %+.0f %%: %s moves by %.9g, first order %.9g, second-order bound %.2g", f.id, 100*share, what, got, d*g0, bound)
		}
		if math.Abs(d*g0) > bound+n.sd[i]/100 {
			n.signed++
			if got*d*g0 <= 0 {
				n.t.Errorf("%s by %+.0f %%: %s moves by %.6g, against its derivative %.6g", f.id, 100*share, what, got, g0)
			}
		}
	}
}

// simpson integrates coordinate z's derivative of value i over the way, taken as
// of length 1, leaving out points when every is 2.
func simpson(way []predicted, i, z, every int) float64 {
	sum, n := 0.0, (len(way)-1)/every
	for k := 0; k <= n; k++ {
		c := 2.0
		switch {
		case k == 0 || k == n:
			c = 1
		case k%2 == 1:
			c = 4
		}
		sum += c * way[k*every].rows[i][z]
	}
	return sum / 3 / float64(n)
}

func sdOf(u, _, _ float64, _ error) float64 { return u }

// taken is a question, and whether it has the load tester set by hand.
type taken struct {
	prediction.Asked
	held bool
}

// predicted is what every probe reads, with its derivatives.
type predicted struct {
	v    []float64
	rows [][]float64
	obs  []question.Observable
	held []bool // the load tester is set by hand to a figure of the procedure
}

func predict(t *testing.T, w *prediction.Worker, asked []taken, z []float64) predicted {
	t.Helper()
	var out predicted
	w.Begin()
	w.Hold(prediction.Hypothesis{}, prediction.Component{}, z)
	for i := range asked {
		// Compiled for another model of the same file: the points and branches
		// are the same.
		if err := w.Solve(&asked[i].Asked); err != nil {
			t.Fatal(err)
		}
		for p := range asked[i].Probes {
			row := make([]float64, len(z))
			out.v = append(out.v, w.Read(&asked[i].Probes[p], row))
			out.rows = append(out.rows, row)
			out.obs = append(out.obs, asked[i].Probes[p].Obs)
			out.held = append(out.held, asked[i].held)
		}
	}
	return out
}
