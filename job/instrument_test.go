package job

import (
	"math"
	"testing"

	"chargewright/question"
)

// TestStandards: own figures give a value the uncertainty of the limit of error
// that they state, rectangular, with one count and the hook-up beside it.
//
// Source: JCGM 100:2008 4.3.7 (a/sqrt 3) and F.2.2.1 (q/sqrt 12), by hand: 12.40 V
// in the 60 V range of 10 mV a count, 0.1 % + 1 count: a = 12.4 mV + 10 mV =
// 22.4 mV; u² = a²/3 + 10²/12 + 0.5² mV².
func TestStandards(t *testing.T) {
	seek := []question.Observable{{Kind: question.Volts, Meter: "dmm"}, {Kind: question.Amps, Meter: "dc-clamp"}, {Kind: question.Volts, Meter: "dmm"}}
	with := []InstrumentBody{{Meter: "dmm", Name: "M-3", Figures: []FigureBody{{"volts", 0.1, 1}}}, {Meter: "dc-clamp", Name: "C-1"}}
	got := Standards([]ValueBody{{How: "measured", X: 12.4}, {How: "measured", X: 20}, {How: "over", Lo: 600}}, seek, with)
	if want := math.Sqrt(22.4*22.4/3+100./12+0.25) * 1e-3; math.Abs(got[0].U-want) > 1e-12 {
		t.Errorf("u = %g V, want %g V", got[0].U, want)
	}
	if got[1].U != 0 || got[2].U != 0 {
		t.Errorf("a clamp without figures of its own, and a value over the range: %+v", got[1:])
	}
}
