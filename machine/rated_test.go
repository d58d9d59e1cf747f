package machine

import (
	"math"
	"testing"
)

// The worked machine of docs/models/machine.md: 40 A, 12 V class, full field.
const (
	ratedK       = 0.0130
	ratedHenries = 275e-6
	ratedOhms    = 0.12
	ratedRotor   = 4.8
	ratedBrush   = 0.6
	ratedKnee    = 2.5
	polePairs    = 6
	pulleyRatio  = 2.3
)

// fullField is the machine at alternator speed rpm with its field on the output
// terminal held at volts.
func fullField(p Pattern, rpm, volts float64) OperatingPoint {
	w := 2 * math.Pi * polePairs * rpm / 60
	phi, _, _ := flux((volts-ratedBrush)/ratedRotor, 1, 0, ratedKnee, 1)
	return OperatingPoint{
		EMF: ratedK * w * phi, Omega: w, Ohms: ratedOhms, Henries: ratedHenries,
		Volts: volts, Diode: PressFit, Bridge: p.Changes(ShortSiemens),
	}
}

// The fault table at the rated point (2875 rpm, 15 V, full field).
// program: ngspice 39.3, transient, 1000 steps a period, 20 periods, uic (means
// to 0.01 A); for the rest and for two-open-opposite a second solver of our own
// (BDF2, Newton, 1440 fixed steps), which the ngspice means check.
// Order of figures: mean, orders 1 2 3 4 6 12, peak to peak; then the largest
// phase current, rms and peak.
var ratedTable = []struct {
	p         Pattern
	out       [8]float64
	rms, peak float64
	meanTo    float64 // tolerance of the mean [A]
}{
	{Healthy, [8]float64{37.93, 0, 0, 0, 0, 2.16, 0.53, 5.3}, 28.2, 39.8, 0.02},
	{DiodeOpen, [8]float64{30.74, 16.6, 6.86, 2.78, 0.73, 0.39, 0.23, 44.6}, 26.4, 44.6, 0.02},
	{DiodeShort, [8]float64{13.19, 12.2, 6.62, 5.05, 0.62, 0.66, 0.14, 29.3}, 44.6, 76.1, 0.02},
	{TwoOpenSameSide, [8]float64{18.50, 22.9, 2.64, 2.47, 1.59, 0.28, 0.15, 42.3}, 24.8, 42.3, 0.02},
	{TwoOpenOpposite, [8]float64{25.44, 22.2, 4.97, 1.21, 1.16, 0.13, 0.19, 44.9}, 24.9, 44.9, 0.05},
	{PhaseOpen, [8]float64{19.21, 0, 14.1, 0, 2.56, 1.07, 0.26, 31.8}, 21.8, 31.8, 0.02},
	{PhaseShort, [8]float64{19.36, 0, 15.1, 0, 2.60, 1.08, 0.26, 33.0}, 37.5, 51.8, 0.03},
	{PhaseEarth, [8]float64{13.19, 12.2, 6.62, 5.05, 0.62, 0.66, 0.14, 29.3}, 44.6, 76.1, 0.02},
}

func TestRatedPointFaultTable(t *testing.T) {
	for _, row := range ratedTable {
		s, err := SteadyState(fullField(row.p, 2875, 15))
		if err != nil {
			t.Fatal(err)
		}
		// The reference rounds: half a unit of three digits, and its own step
		// error of 0.15 % of the largest figure.
		largest := max(row.out[0], row.out[7])
		for k, want := range row.out {
			tol := 0.0015*largest + 0.005
			if k == 0 {
				tol = row.meanTo
			}
			if k == 7 || k == 1 || k == 2 {
				tol += 0.05
			}
			if got := s.Out[k]; math.Abs(got-want) > tol {
				t.Errorf("%v %v: %.3f A, reference %.3f, tolerance %.3f", row.p, Output(k), got, want, tol)
			}
		}
		rms := max(s.RMS[0], s.RMS[1], s.RMS[2])
		peak := max(s.Peak[0], s.Peak[1], s.Peak[2])
		if math.Abs(rms-row.rms) > 0.1 || math.Abs(peak-row.peak) > 0.2 {
			t.Errorf("%v: phase current rms %.2f peak %.2f A, reference %.1f and %.1f", row.p, rms, peak, row.rms, row.peak)
		}
	}
}

// Full-field output against speed at 15 V.
// program: ngspice 39.3, netlist as Netlist writes it, full precision in the
// first figures; our second solver (BDF2) for the rest.
func TestFullFieldOutputAgainstSpeed(t *testing.T) {
	for _, row := range [][2]float64{
		{1150, 1.093},
		{1300, 5.859},
		{1600, 15.89},
		{2000, 26.85},
		{2875, 37.93},
		{4000, 43.27},
		{6000, 46.55},
		{10000, 48.27},
	} {
		s, err := SteadyState(fullField(Healthy, row[0], 15))
		if err != nil {
			t.Fatal(err)
		}
		// ngspice's own step error at 1000 steps is 0.02 %; figures have 4 digits.
		if tol := 0.0005*row[1] + 0.005; math.Abs(s.Out[Mean]-row[1]) > tol {
			t.Errorf("%v rpm: %.4f A, reference %v", row[0], s.Out[Mean], row[1])
		}
	}
}

// Output against engine speed with an open, a shorted diode, an open phase.
// program: our second solver (BDF2, 1440 fixed steps), to 0.1 A; ngspice 39.3
// at 5000 rpm gave 48.51 healthy and 52.14 with an open diode. That the open
// diode gains above 3000 rpm is this model's artefact: see TrustedRatio.
func TestFaultCostAgainstSpeed(t *testing.T) {
	patterns := []Pattern{Healthy, DiodeOpen, DiodeShort, PhaseOpen}
	for _, row := range [][5]float64{
		{600, 8.6, 5.3, 2.1, 2.3},
		{800, 23.2, 15.6, 7.0, 8.1},
		{1000, 32.0, 24.0, 10.5, 14.1},
		{1250, 37.9, 30.8, 13.2, 19.2},
		{2000, 44.7, 40.8, 16.3, 24.8},
		{3000, 47.2, 46.8, 17.6, 26.8},
		{5000, 48.5, 52.1, 18.2, 27.9},
	} {
		for k, p := range patterns {
			s, err := SteadyState(fullField(p, row[0]*pulleyRatio, 15))
			if err != nil {
				t.Fatal(err)
			}
			// Rounding of the reference, and 0.2 % for its fixed steps.
			if want := row[k+1]; math.Abs(s.Out[Mean]-want) > 0.06+0.002*want {
				t.Errorf("%v at %v rpm: %.3f A, reference %v", p, row[0], s.Out[Mean], want)
			}
		}
	}
}

// common practice: at the output test an open diode costs about 5 to 7 A, a
// shorted one far more. Machines of this class (L 220-330 uH, R 0.06-0.18 Ohm)
// spread from 5.1 to 8.8 A in the model, and lose more than 20 A to a short.
func TestOpenDiodeCostsWhatTheTradeSays(t *testing.T) {
	healthy, open, short := 0.0, 0.0, 0.0
	for p, into := range map[Pattern]*float64{Healthy: &healthy, DiodeOpen: &open, DiodeShort: &short} {
		s, err := SteadyState(fullField(p, 2875, 15))
		if err != nil {
			t.Fatal(err)
		}
		*into = s.Out[Mean]
	}
	if cost := healthy - open; cost < 5.1 || cost > 8.8 {
		t.Errorf("an open diode costs %.1f A", cost)
	}
	if cost := healthy - short; cost < 20 {
		t.Errorf("a shorted diode costs only %.1f A", cost)
	}
}

// closed form: by symmetry a phase on the case gives the output of a shorted
// diode, and an open phase that of two open diodes of one phase.
func TestPatternsThatAreTheSameAtTheOutput(t *testing.T) {
	same := func(a, b OperatingPoint) {
		t.Helper()
		x, err := SteadyState(a)
		if err != nil {
			t.Fatal(err)
		}
		y, err := SteadyState(b)
		if err != nil {
			t.Fatal(err)
		}
		for o := range NumOutputs {
			// Two half-cycle-shifted integrations of 727 steps differ by the
			// error of either: below 1 mA in mean and orders, more in the crest.
			if tol := 2e-3; math.Abs(x.Out[o]-y.Out[o]) > tol {
				t.Errorf("%v: %.5f against %.5f A", o, x.Out[o], y.Out[o])
			}
		}
	}
	same(fullField(DiodeShort, 2875, 15), fullField(PhaseEarth, 2875, 15))
	two := fullField(Healthy, 2875, 15)
	two.Bridge.Open[APlus], two.Bridge.Open[AMinus] = true, true
	same(fullField(PhaseOpen, 2875, 15), two)
}
