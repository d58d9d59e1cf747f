package diagnosis

import (
	"context"
	"slices"
	"testing"

	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// TestLateValueIsWrong: the seventieth value of a job is as likely wrong as the first.
// Sixty-nine readings of one battery agree within their meter; the last is 13 of its
// standard uncertainties off, which no vehicle of the list is once the others are in. Where
// only 64 values could be wrong it counted as right.
func TestLateValueIsWrong(t *testing.T) {
	c := linearCar(t)
	pr := linearPrior(c, .02)
	pr.Settings.Flip = DefaultSettings().Flip
	volts := slices.Repeat([]float64{14.2}, 69)
	b, err := Infer(context.Background(), pr, restVolts(c, 0.05, append(volts, 13.55)...))
	if err != nil {
		t.Fatal(err)
	}
	// Closed form: right, it has a density of exp(-13²/2) / (0.05 sqrt(2 pi)), 2e-36; wrong,
	// 0.02 / 40 per volt. The odds are 1e32 to one.
	p := b.PWrong()
	if p[69] < 0.99 || slices.Max(p[:69]) > 0.05 {
		t.Errorf("the last reading is wrong with %.3f, the others with %.3f at most", p[69], slices.Max(p[:69]))
	}
}

// TestBoxHoldsWhatAVehicleReads: what a machine charges a 24 V line with, and what a large
// one gives, lies inside the range over which a wrong value may fall. Outside it a value
// next to cannot be wrong. 28.3 V and 101 A: docs/models/vehicle-coach-24.md, computed. On
// 12 V and 38 A the range is as it was: 0 to 20 V, 50 A either way.
func TestBoxHoldsWhatAVehicleReads(t *testing.T) {
	for _, v := range []struct {
		volts, amps float64 // nominal, rated
		top         [2]float64
		reads       [2]float64
	}{
		{12, 38, [2]float64{20, 50}, [2]float64{14.4, 38}},
		{24, 80, [2]float64{40, 104}, [2]float64{28.3, 101}},
	} {
		sys := &system.System{Volts: v.volts}
		sys.Machine.RatedAmps = v.amps
		pr := Prior{Model: &prediction.Model{Sys: sys}}
		for k, kind := range []question.Kind{question.Volts, question.Amps} {
			low, width := pr.box(kind)
			if top := low + width; top < v.reads[k] || top != v.top[k] {
				t.Errorf("%g V, %g A: %s up to %g, want %g", v.volts, v.amps, kind, top, v.top[k])
			}
		}
	}
}
