package machine

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"chargewright/circuit"
)

var _ circuit.Device = (*Alternator)(nil)

func newRated(t testing.TB) *Alternator {
	t.Helper()
	m, err := NewAlternator(PressFit, ratedKnee, 1)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// ratedParams are the worked machine's at an alternator speed.
func ratedParams(p Pattern, rpm float64) []float64 {
	q := make([]float64, NumParams)
	q[Flux], q[Inductance], q[StatorOhms], q[RotorOhms] = ratedK, ratedHenries, ratedOhms, ratedRotor
	q[Omega], q[Turns], q[Residual], q[BrushVolts] = 2*math.Pi*polePairs*rpm/60, 1, 0.01, ratedBrush
	q[PatternIndex] = float64(p)
	return q
}

// draw is a random operating point: running at any speed, below cut-in, at
// high flux on little volts, and standing.
func draw(rng *rand.Rand) (x, p []float64) {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	rpm := 400 * math.Exp(rng.Float64()*math.Log(15000.0/400))
	switch rng.IntN(8) {
	case 0:
		rpm = 0
	case 1:
		rpm = between(1, 400)
	}
	p = ratedParams(Pattern(rng.IntN(int(NumPatterns))), rpm)
	p[Flux] *= between(0.5, 1.5)
	p[Inductance] *= between(0.6, 1.6)
	p[StatorOhms] *= math.Exp(between(-1.5, 1.5))
	p[RotorOhms] *= between(0.7, 3)
	p[Slip] = between(0, 0.6)
	p[Turns] = between(0.5, 1)
	p[Residual] = between(0, 0.03)
	p[BrushVolts] = between(0.2, 2)
	x = []float64{between(2, 18), between(-0.5, 0.5), between(0, 15), between(0, 5), between(-0.5, 4)}
	return x, p
}

// sizes are what a change of each unknown and parameter is measured by: its
// usual size, so that every scaled derivative is in amperes (or volts).
var (
	sizeX = []float64{14, 14, 14, 14, 2}
	sizeP = []float64{ratedK, ratedHenries, ratedOhms, ratedRotor, 1800, 1, 1, 0.02, 0.6, 1}
)

// central returns a central difference of f, extrapolated once: error h^4, so
// that a step can be large enough for rounding not to count.
func central(f func() float64, at *float64, h float64) float64 {
	x := *at
	half := func(h float64) float64 {
		*at = x + h
		hi := f()
		*at = x - h
		lo := f()
		*at = x
		return (hi - lo) / (2 * h)
	}
	return (4*half(h/2) - half(h)) / 3
}

// The closed-form derivatives against central differences, at 2,000 random
// points over all patterns. Tolerance 1e-6 of derivative plus 1 A a usual size.
// The table is C2, so at one of its knots the difference itself errs by
// h*jump of the third derivative: the few points that fail are tried again
// with a smaller step, where a wrong derivative would fail just the same.
func TestDerivativesAgainstDifferences(t *testing.T) {
	m := newRated(t)
	rng := rand.New(rand.NewPCG(7, 1))
	const n = size
	for range 2000 {
		x, p := draw(rng)
		f, jac, dfdp := make([]float64, n), make([]float64, n*n), make([]float64, n*NumParams)
		m.Stamp(x, p, f, jac)
		m.Grad(x, p, dfdp)
		scratch := make([]float64, n*n)
		row := 0
		value := func() float64 {
			g := make([]float64, n)
			m.Stamp(x, p, g, scratch)
			return g[row]
		}
		which := Output(rng.IntN(int(NumOutputs)))
		dx, dp := make([]float64, n), make([]float64, NumParams)
		m.Ripple(x, p, which, dx, dp)
		ripple := func() float64 { return m.Ripple(x, p, which, nil, nil) }
		for k := range n {
			for row = range n {
				closeTo(t, x, p, value, &x[k], sizeX[k], jac[row*n+k], "f", row, "x", k)
			}
			closeTo(t, x, p, ripple, &x[k], sizeX[k], dx[k], which, 0, "x", k)
		}
		for k := range PatternIndex {
			for row = range n {
				closeTo(t, x, p, value, &p[k], sizeP[k], dfdp[row*NumParams+k], "f", row, "p", k)
			}
			closeTo(t, x, p, ripple, &p[k], sizeP[k], dp[k], which, 0, "p", k)
		}
		if t.Failed() {
			return
		}
	}
}

func closeTo(t *testing.T, x, p []float64, f func() float64, at *float64, size, got float64, what ...any) {
	t.Helper()
	var want float64
	for _, h := range []float64{1e-3, 1e-4, 1e-5} {
		want = central(f, at, h*size)
		if math.Abs(got-want)*size <= 1e-6*(math.Abs(want)*size+1) {
			return
		}
	}
	t.Errorf("%v: derivative %.9g, difference %.9g at x %.4g p %.4g", what, got, want, x, p)
}

// The device is C1 where its pieces meet: at both ends of the table in u and y.
func TestPiecesMeetSmoothly(t *testing.T) {
	tables, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	at := func(tb *Table, o Output, u, y float64) current {
		return tb.look(o, point{volts: 16, emf: 16 / u, reactance: 0.5, ohms: 0.5 * y, drop: 0.83})
	}
	const e = 1e-9
	for p := range NumPatterns {
		tb := tables[p]
		g := tb.Grid
		for o := range NumOutputs {
			for _, k := range []float64{0.04, 0.2, 0.7} {
				for _, u := range g.U {
					below, above := at(tb, o, u*(1-e), k), at(tb, o, u*(1+e), k)
					compare(t, p, o, "u", u, below, above)
				}
			}
			for _, u := range []float64{0.05, 0.3, 1, 1.6, 1.9} {
				for _, s := range []float64{tb.logY[0] + yMargin, tb.logY[1] - yMargin} {
					y := math.Exp(s)
					below, above := at(tb, o, u, y*(1-e)), at(tb, o, u, y*(1+e))
					compare(t, p, o, "y", y, below, above)
				}
			}
		}
	}
}

func compare(t *testing.T, p Pattern, o Output, what string, at float64, a, b current) {
	t.Helper()
	pairs := [][2]float64{{a.amps, b.amps}, {a.byVolts, b.byVolts}, {a.byEMF, b.byEMF}, {a.byReactance, b.byReactance}, {a.byOhms, b.byOhms}}
	for k, q := range pairs {
		// Both sides are 1e-9 apart; second derivatives of some 1e3 A per unit
		// squared leave 1e-6.
		if math.Abs(q[0]-q[1]) > 1e-5*(1+math.Abs(q[0])) {
			t.Errorf("%v %v at %s %v: figure %d jumps from %v to %v", p, o, what, at, k, q[0], q[1])
		}
	}
}

// Engine off: whatever the pattern, the rectifier blocks. common practice: six
// good diodes leak microamperes; the model leaks V/100 kOhm, 0.13 mA at 12.6 V.
// A shorted positive diode does not drain either: the negative diodes block.
func TestStandingMachineDoesNotDrain(t *testing.T) {
	m := newRated(t)
	for p := range NumPatterns {
		q := ratedParams(p, 0)
		for _, v := range []float64{0, 3, 12.6, 16} {
			f, jac := make([]float64, size), make([]float64, size*size)
			m.Stamp([]float64{v, 0, 12, 0, 2.4}, q, f, jac)
			if f[Stud] < 0 || f[Stud] > 1.01e-5*v {
				t.Errorf("%v: %g A into the stud at %v V", p, f[Stud], v)
			}
			if g := jac[Stud*size+Stud]; g < 0.99e-5 || g > 1.01e-5 {
				t.Errorf("%v: slope %g S at %v V", p, g, v)
			}
		}
	}
}

// Below cut-in the slope of the output current stays negative and nothing flows;
// no number in a wide sweep is not a number.
func TestOutputFallsWithVoltageAndDiesBelowCutIn(t *testing.T) {
	m := newRated(t)
	for p := range NumPatterns {
		for _, rpm := range []float64{0, 1, 100, 500, 900, 1500, 2875, 6000, 15000, 40000} {
			q := ratedParams(p, rpm)
			for _, field := range []float64{-3, 0, 0.18, 3, 6} {
				last := math.Inf(1)
				for v := -3.0; v < 80; v += 0.25 {
					f, jac := make([]float64, size), make([]float64, size*size)
					m.Stamp([]float64{v, 0, 12, 0, field}, q, f, jac)
					for _, z := range slices.Concat(f, jac) {
						if math.IsNaN(z) || math.IsInf(z, 0) {
							t.Fatalf("%v %v rpm %v A at %v V: %v %v", p, rpm, field, v, f, jac)
						}
					}
					out := -f[Stud]
					if p == Healthy && v > 0 && out > last+1e-9 {
						t.Errorf("%v rpm, field %v A: output rises to %.4f A at %v V", rpm, field, out, v)
					}
					last = out
				}
			}
		}
	}
	// program: ngspice 39.3: 0.09 A at 1050 rpm on 14 V, cut-in at about 1050-1100.
	x := []float64{14, 0, 14, 0, (14 - ratedBrush) / ratedRotor}
	q := ratedParams(Healthy, 900)
	q[Residual] = 0
	if i := m.Ripple(x, q, Mean, nil, nil); i > 0.01 {
		t.Errorf("%.4f A at 900 rpm", i)
	}
}

// The field reverses, the output does not notice.
// closed form: E enters by its magnitude.
func TestReversedFieldGivesTheSameOutput(t *testing.T) {
	m := newRated(t)
	q := ratedParams(Healthy, 2875)
	a := m.Ripple([]float64{14, 0, 0, 0, 2}, q, Mean, nil, nil)
	b := m.Ripple([]float64{14, 0, 0, 0, -2}, q, Mean, nil, nil)
	if math.Abs(a-b) > 1e-12 || a < 20 {
		t.Errorf("%v and %v A", a, b)
	}
}

// Shorted rotor turns at a constant field voltage leave ampere-turns, hence
// output, unchanged. closed form: N I = V / (resistance of a turn).
func TestShortedTurnsKeepAmpereTurns(t *testing.T) {
	m := newRated(t)
	q := ratedParams(Healthy, 2875)
	whole := m.Ripple([]float64{15, 0, 0, 0, 3}, q, Mean, nil, nil)
	q[Turns] = 0.8
	short := m.Ripple([]float64{15, 0, 0, 0, 3 / 0.8}, q, Mean, nil, nil)
	if math.Abs(whole-short) > 1e-9 {
		t.Errorf("%v with all turns, %v A with 80 %%", whole, short)
	}
}

// closed form: Froehlich's curve passes through 1 at the knee, with half the
// slope of its start at a = 1 for the same figure; the rounding at zero moves
// it by 8e-6 there.
func TestFlux(t *testing.T) {
	phi, _, _ := flux(ratedKnee, 1, 0, ratedKnee, 1)
	if math.Abs(phi-1) > 1e-5 {
		t.Errorf("flux at the knee %v", phi)
	}
	phi, slope, _ := flux(0, 1, 0.01, ratedKnee, 1)
	if phi != 0.01 || slope != 0 {
		t.Errorf("without field: flux %v, slope %v", phi, slope)
	}
	// memory: the 2.2 W lamp's 0.18 A give 0.13 of the flux.
	if phi, _, _ = flux(0.18, 1, 0, ratedKnee, 1); math.Abs(phi-0.134) > 0.002 {
		t.Errorf("flux on lamp current %v", phi)
	}
}

// Work, not time: the solver calls these hundreds of thousands of times.
func TestNoAllocation(t *testing.T) {
	m := newRated(t)
	x, p := []float64{14, 0, 14, 0, 2.7}, ratedParams(DiodeShort, 2875)
	f, jac, dfdp := make([]float64, size), make([]float64, size*size), make([]float64, size*NumParams)
	dx, dp := make([]float64, size), make([]float64, NumParams)
	if n := testing.AllocsPerRun(100, func() {
		m.Stamp(x, p, f, jac)
		m.Grad(x, p, dfdp)
		m.Ripple(x, p, Order1, dx, dp)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func TestBadAlternatorIsRefused(t *testing.T) {
	if _, err := NewAlternator(Diode{}, 0, -1); err == nil {
		t.Error("accepted")
	}
}

func BenchmarkStamp(b *testing.B) {
	m := newRated(b)
	for _, p := range []Pattern{Healthy, DiodeShort} {
		b.Run(p.String(), func(b *testing.B) {
			x, q := []float64{14, 0, 14, 0, 2.7}, ratedParams(p, 2875)
			f, jac := make([]float64, size), make([]float64, size*size)
			for b.Loop() {
				m.Stamp(x, q, f, jac)
			}
		})
	}
}

func BenchmarkGrad(b *testing.B) {
	m := newRated(b)
	x, q := []float64{14, 0, 14, 0, 2.7}, ratedParams(Healthy, 2875)
	dfdp := make([]float64, size*NumParams)
	for b.Loop() {
		m.Grad(x, q, dfdp)
	}
}

func BenchmarkSteadyState(b *testing.B) {
	for p := range NumPatterns {
		b.Run(p.String(), func(b *testing.B) {
			c := fullField(p, 2875, 15)
			for b.Loop() {
				if _, err := SteadyState(c); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
