package fit

import (
	"math"
	"os"
	"testing"

	"chargewright/internal/near"
	"chargewright/system"
)

// curveOf is the curve of the example's figures, changed.
func curveOf(t *testing.T, change func(*Figures)) *Result {
	t.Helper()
	data, err := os.ReadFile("../examples/figures-demo.yaml")
	if err != nil {
		t.Fatal(err)
	}
	x, err := Parse("figures-demo.yaml", data, system.ByID)
	if err != nil {
		t.Fatal(err)
	}
	change(x)
	r, err := Run(x, Options{Seed: 1, Starts: 1})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestCurve: the drawn output goes through what is predicted for the figures, rises from
// nothing, stays within its band and the picture, and shows the outputs that hold for the
// same alone; without an output at full field there is none.
func TestCurve(t *testing.T) {
	r := curveOf(t, func(*Figures) {})
	c := r.Curve
	if len(c.Points) < curvePoints/2 || len(c.Given) != 2 { // of three outputs one is of hot windings
		t.Fatalf("%d points, %d figures", len(c.Points), len(c.Given))
	}
	for i, p := range c.Points {
		if math.IsNaN(p.Amps+p.Low+p.High) || p.Low < 0 || p.Low > p.Amps || p.Amps > p.High || p.High > 1 || p.Speed > 1 || i > 0 && (p.Amps < c.Points[i-1].Amps || p.Speed <= c.Points[i-1].Speed) {
			t.Errorf("point %d is %+v", i, p)
		}
	}
	if c.Points[0].Amps > 1e-6 { // a smooth model leaves nothing that a meter shows
		t.Errorf("it gives %g of the picture when it hardly turns", c.Points[0].Amps)
	}
	// At the rated speed the figure is 55 A of the given one, 5 % up at its end, and the
	// machine gives what is predicted: amps compare as the figure's own scale has them.
	var predicted float64
	for _, f := range r.Fitted {
		if f.ID == "rated" {
			predicted = f.Predicted
		}
	}
	rated := c.Given[1]
	near.Check(t, "the ring against its end", rated.High/rated.Amps, 1.05, near.Tol{Rel: 1e-9}, "closed form: 55 A +- 5 %")
	near.Check(t, "the curve at the rated speed [A]", c.at(rated.Speed)/rated.Amps*55, predicted, near.Tol{Rel: 0.005}, "closed form: the prediction of the same figure; a straight line between two points of thirty is off by less")
	if r := curveOf(t, func(x *Figures) {
		for i := range x.List {
			if x.List[i].Kind == Output {
				amps := 3.2
				x.List[i].FieldAmps = &amps
			}
		}
	}); len(r.Curve.Points) != 0 {
		t.Errorf("outputs at a held field are drawn as at full field: %+v", r.Curve)
	}
}

// at is the curve between its points.
func (c Curve) at(speed float64) float64 {
	for i := 1; i < len(c.Points); i++ {
		a, b := c.Points[i-1], c.Points[i]
		if speed >= a.Speed && speed <= b.Speed {
			return a.Amps + (b.Amps-a.Amps)*(speed-a.Speed)/(b.Speed-a.Speed)
		}
	}
	return math.NaN()
}

// TestTicks: round numbers, few of them, from nothing to the end.
func TestTicks(t *testing.T) {
	for end, want := range map[float64]string{66: "60", 6600: "6000", 0.9: "0.8", 120: "120", 35: "30"} {
		list := ticks(end)
		if last := list[len(list)-1]; len(list) > mostTicks+1 || len(list) < 3 || last.Text != want || list[0].Text != "0" || last.At > 1 {
			t.Errorf("up to %g: %+v, want %s last", end, list, want)
		}
	}
}
