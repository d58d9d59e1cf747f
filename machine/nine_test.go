package machine

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"

	"chargewright/circuit"
	"chargewright/internal/sample"
)

var _ circuit.Device = (*NineDiode)(nil)

func newNine(t testing.TB) *NineDiode {
	t.Helper()
	m, err := NewNineDiode(PressFit, SmallDiode, ratedKnee, 1)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// drawNine is a random operating point of a machine with field diodes: running,
// below cut-in, on little and on no voltage, standing; D+ fed from outside too.
func drawNine(rng *rand.Rand) (x, p []float64) {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	old, p := draw(rng)
	p[PatternIndex] = float64(rng.IntN(int(NumNinePatterns)))
	x = make([]float64, nineSize)
	copy(x, old[:4])
	if rng.IntN(8) == 0 {
		x[Stud] = between(0, 2)
	}
	x[NineFieldAmps], x[DPlusAmps] = old[FieldAmps], between(-0.1, 4)
	// Near where the field diode turns on, else its current is beyond all size.
	m := rng.Float64()
	x[DPlus] = x[Case] + m*(x[Stud]+2) - 2
	return x, p
}

// The closed-form derivatives against central differences, at 2,000 random
// points over all patterns; tolerance and retries as for Alternator. An amp of
// the field diode's own law is a hundredth of a volt, so its equation counts in
// amps of its own size.
func TestNineDerivativesAgainstDifferences(t *testing.T) {
	m := newNine(t)
	rng := rand.New(rand.NewPCG(7, 2))
	const n = nineSize
	sizes := []float64{14, 14, 14, 14, 14, 2, 2}
	done := 0
	for done < 2000 {
		x, p := drawNine(rng)
		p[DPlusOff] = 0.02 * (rng.Float64() - 0.5)
		f, jac, dfdp := make([]float64, n), make([]float64, n*n), make([]float64, n*NumParams)
		m.Stamp(x, p, f, jac)
		if math.Abs(f[DPlusAmps]) > 100 {
			continue // hundreds of amps forward through a field diode
		}
		done++
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
				nineClose(t, x, p, value, &x[k], sizes[k], jac[row*n+k], "f", row, "x", k)
			}
			nineClose(t, x, p, ripple, &x[k], sizes[k], dx[k], which, 0, "x", k)
		}
		for row = range n {
			nineClose(t, x, p, value, &p[DPlusOff], 1, dfdp[row*NumParams+DPlusOff], "f", row, "p", DPlusOff)
		}
		for k := range PatternIndex {
			for row = range n {
				nineClose(t, x, p, value, &p[k], sizeP[k], dfdp[row*NumParams+k], "f", row, "p", k)
			}
			nineClose(t, x, p, ripple, &p[k], sizeP[k], dp[k], which, 0, "p", k)
		}
		if t.Failed() {
			return
		}
	}
}

// nineClose is closeTo with a smaller last step: a field diode bends within its
// own n V_T of 44 mV.
func nineClose(t *testing.T, x, p []float64, f func() float64, at *float64, size, got float64, what ...any) {
	t.Helper()
	var want float64
	for _, h := range []float64{1e-4, 1e-5, 1e-6} {
		want = central(f, at, h*size)
		if math.Abs(got-want)*size <= 1e-6*(math.Abs(want)*size+1) {
			return
		}
	}
	t.Errorf("%v: derivative %.9g, difference %.9g at x %.4g p %.4g", what, got, want, x, p)
}

// drawDPlus is a running machine at random: speed 1150-10000 rpm (600 up where
// slow), flux 0.7-1.05 of the rated, L +-25 %, R 0.06-0.2 Ohm, 12-15.5 V, a field of
// 0.5-3 A of which a fifth to all is drawn at D+.
func drawDPlus(rng *rand.Rand, p NinePattern) (x, q []float64) {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	q = ratedParams(Healthy, 600*math.Pow(10000.0/600, rng.Float64()))
	q[Inductance] = ratedHenries * between(0.75, 1.25)
	q[StatorOhms] = between(0.06, 0.2)
	q[Flux] = ratedK * between(0.7, 1.05)
	q[PatternIndex] = float64(p)
	x = make([]float64, nineSize)
	x[Stud] = between(12, 15.5)
	x[NineFieldAmps] = between(0.5, 3)
	x[DPlusAmps] = x[NineFieldAmps] * between(0.2, 1)
	return x, q
}

// dplusVolts is the D+ voltage [V] at which the device gives x's current.
func (m *NineDiode) dplusVolts(x, p []float64) float64 {
	var s state
	m.solve(&s, x, p)
	i := x[DPlusAmps]
	v := x[Case] + s.open.v - s.ohms.v*i
	if m.pattern(p).direct() {
		return v - i/directSiemens
	}
	return v - m.small.Drop(i) - m.small.Ohms*i
}

// The averaged D+ against our own time-domain solver, every pattern. The bars:
// what a workshop could see or a lamp show, 0.1 V rms and 0.3 V at most; the
// output as far off as its tables (0.3 A), where a field diode is shorted, whose
// output is a shorted main diode's, 1 A. 12 points a pattern, 200 with
// CHARGEWRIGHT_ALL.
func TestDPlusAgainstTimeDomain(t *testing.T) {
	m := newNine(t)
	for p := range NumNinePatterns {
		rng := rand.New(rand.NewPCG(5, uint64(p)))
		var square, worst, amps float64
		n := sample.Count(12, 200)
		for range n {
			x, q := drawDPlus(rng, p)
			b, err := m.Build(x, q)
			if err != nil {
				t.Fatal(err)
			}
			b.Steps = 361
			s := mustRun(t, b)
			e := m.dplusVolts(x, q) - s.DPlusVolts.Mean
			square += e * e
			worst = max(worst, math.Abs(e))
			amps = max(amps, math.Abs(m.Ripple(x, q, Mean, nil, nil)-s.Stud.Mean))
		}
		rms := math.Sqrt(square / float64(n))
		t.Logf("%-20v D+ rms %.3f V, max %.3f V; output max %.3f A", p, rms, worst, amps)
		bar := 0.3
		if p.direct() {
			bar = 1
		}
		if rms > 0.1 || worst > 0.3 || amps > bar {
			t.Errorf("%v: D+ rms %.3f V, max %.3f V; output max %.3f A", p, rms, worst, amps)
		}
	}
}

// The same machine fully fed from D+, in a network with the averaged device and
// in the time domain with its fixed point: field current within 3 %, output within
// 3 % and 0.3 A (the output goes with the field current). A slow or a fast engine in
// turn, with CHARGEWRIGHT_ALL both.
func TestNineFullFieldAgainstTimeDomain(t *testing.T) {
	d := &Description{
		Poles: 2 * polePairs, Ohms: ratedOhms, Henries: ratedHenries, RotorOhms: ratedRotor, BrushVolts: ratedBrush,
		Diode: PressFit, FieldDiode: &SmallDiode,
	}
	d.flux.k, d.flux.knee, d.flux.sat, d.flux.residual = ratedK, ratedKnee, 1, 0.01
	for k, p := range []NinePattern{NineHealthy, NineFieldOpen, NineDiodeShort, NineNegativeOpen, NinePhaseOpen} {
		for _, rpm := range sample.Part([]float64{1800, 5000}, k, 2) {
			v := newLampCar(t, p)
			v.p[v.onoff], v.p[v.reg] = keyOff, 1e-3
			v.p[v.battery], v.p[v.battery+1], v.p[v.wire] = 13.5, 1e-4, 1e-4
			// A field current to begin with: it is to run, not to wake.
			v.s.X[v.c.Own(v.field)] = 2.5
			v.at(t, rpm)
			c := Condition{Speed: rpm / 60 * 2 * math.Pi, Side: Side{EMF: 13.5}}
			for _, e := range p.Elements() {
				if err := c.Changes.Apply(e); err != nil {
					t.Fatal(err)
				}
			}
			a, err := d.Run(c)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%-20v %v rpm: field %.3f A (time domain %.3f), out %.2f A (%.2f)", p, rpm, v.fieldAmps(), a.Field, v.studAmps(), a.Stud.Mean)
			if math.Abs(v.fieldAmps()/a.Field-1) > 0.03 || math.Abs(v.studAmps()-a.Stud.Mean) > 0.3+0.03*a.Stud.Mean {
				t.Errorf("%v at %v rpm: field %.3f A, time domain %.3f; out %.2f A, time domain %.2f", p, rpm, v.fieldAmps(), a.Field, v.studAmps(), a.Stud.Mean)
			}
		}
	}
}

// The D+ figures are C1 where their pieces meet: at both ends of the table in u,
// and where y bends.
func TestDPlusPiecesMeetSmoothly(t *testing.T) {
	tables, err := ShippedDPlus()
	if err != nil {
		t.Fatal(err)
	}
	const emf, e = 10.0, 1e-9
	at := func(tb *DPlusTable, u, y float64) []dual {
		v := variable(u*emf, byVolts)
		a := newAddress(tb, v, variable(emf, byEMF), variable(y, byOhms))
		return []dual{a.level(v, variable(emf, byEMF)), a.figure(DPlusSlope), a.figure(DPlusShare), a.beyond}
	}
	same := func(p NinePattern, what string, at float64, below, above []dual) {
		for k := range below {
			for j := range below[k].d {
				// Both sides are 1e-9 apart; second derivatives of some 1e3 leave 1e-6.
				if d := math.Abs(below[k].d[j] - above[k].d[j]); d > 1e-5 || math.Abs(below[k].v-above[k].v) > 1e-6 {
					t.Errorf("%v, figure %d, at %s %v: value %v to %v, slope %d %v to %v", p, k, what, at, below[k].v, above[k].v, j, below[k].d[j], above[k].d[j])
				}
			}
		}
	}
	for p := range NumNinePatterns {
		tb := tables[p]
		for _, y := range []float64{0.02, 0.2, 2} {
			for _, u := range tb.Grid.U {
				same(p, "u", u, at(tb, u*(1-e), y), at(tb, u*(1+e), y))
			}
		}
		for _, u := range []float64{0.05, 0.5, 1.6, 3} {
			for _, s := range []float64{tb.logY[0] + yMargin, tb.logY[1] - yMargin} {
				y := math.Exp(s)
				same(p, "y", y, at(tb, u, y*(1-e)), at(tb, u, y*(1+e)))
			}
		}
	}
}

// What the D+ tables must say where it can be worked out. closed form: while the
// output conducts all the time, D+ follows it: level u; with a field diode open the
// six-step leaves it for a sixth of the time, level 5u/6. Cut off, D+ is a rectifier
// on a held current (textbook, of the peak of a phase): level 3 sqrt(3)/pi sound,
// 1.378 with a diode open on either side, 2 sqrt(3)/pi with a phase open, 3/pi with
// two joined; it falls by overlap and by two windings, 3/pi + 2y, less what overlap
// spares of the resistance: 3 % at this y.
func TestDPlusClosedForms(t *testing.T) {
	tables, err := ShippedDPlus()
	if err != nil {
		t.Fatal(err)
	}
	const y = 0.05
	for _, c := range []struct {
		p       NinePattern
		u, want float64
		o       DPlusOutput
		tol     float64
	}{
		{NineHealthy, 0.5, 0.5, DPlusLevel, 2e-3},
		{NineHealthy, 0.5, 1, DPlusShare, 5e-3},
		{NineFieldOpen, 0.6, 0.5, DPlusLevel, 2e-3},
		{NineHealthy, 1.9, 3 * math.Sqrt(3) / math.Pi, DPlusLevel, 3e-3},
		{NineFieldOpen, 1.9, 1.378, DPlusLevel, 4e-3},
		{NineNegativeOpen, 1.9, 1.378, DPlusLevel, 4e-3},
		{NineDiodeOpen, 1.9, 3 * math.Sqrt(3) / math.Pi, DPlusLevel, 3e-3},
		{NinePhaseOpen, 1.9, 2 * math.Sqrt(3) / math.Pi, DPlusLevel, 3e-3},
		{NinePhaseShort, 1.9, 3 / math.Pi, DPlusLevel, 3e-3},
		{NineHealthy, 1.9, 3/math.Pi + 2*y, DPlusSlope, 0.03},
		{NineHealthy, 1.9, 0, DPlusShare, 1e-3},
	} {
		if got, _, _, _ := tables[c.p].at(c.o, c.u, math.Log(y)); math.Abs(got-c.want) > c.tol {
			t.Errorf("%v %v at u %v: %.4f, closed form %.4f", c.p, c.o, c.u, got, c.want)
		}
	}
}

// A D+ table file is read back to the same bytes, and what is broken is refused.
func TestDPlusFileRoundTrip(t *testing.T) {
	data, err := tableFiles.ReadFile("tables/" + DPlusFile(NineFieldOpen))
	if err != nil {
		t.Fatal(err)
	}
	tb, err := ParseDPlusTable(data)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(tb.Encode(), data) {
		t.Error("reading and writing changes the file")
	}
	for what, d := range map[string][]byte{
		"another file":    []byte("something\n\n"),
		"half a file":     data[:len(data)-400],
		"an odd length":   data[:len(data)-1],
		"an unknown key":  bytes.Replace(data, []byte("\nsolver "), []byte("\nsolved "), 1),
		"a wrong pattern": bytes.Replace(data, []byte("pattern field-diode-open"), []byte("pattern field-diode-gone"), 1),
		"other outputs":   bytes.Replace(data, []byte("level slope"), []byte("slope level"), 1),
	} {
		if _, err := ParseDPlusTable(d); err == nil {
			t.Errorf("%s is accepted", what)
		}
	}
}

func TestNinePatternNames(t *testing.T) {
	for p := range NumNinePatterns {
		if q, err := ParseNinePattern(p.String()); err != nil || q != p {
			t.Errorf("%v comes back as %v, %v", p, q, err)
		}
		var c Changes
		for _, e := range p.Elements() {
			if err := c.Apply(e); err != nil {
				t.Errorf("%v: %v", p, err)
			}
		}
	}
	for p := range NumPatterns { // what both machines can have has one name
		if q, err := ParseNinePattern(p.String()); err != nil || q.Output() != p {
			t.Errorf("%v is %v with field diodes, %v", p, q, err)
		}
	}
	if _, err := ParseNinePattern("diode-bent"); err == nil {
		t.Error("a pattern that is none is accepted")
	}
	if _, err := NewNineDiode(Diode{}, Diode{}, 0, -1); err == nil {
		t.Error("a machine of nothing is accepted")
	}
}

func TestNineNoAllocation(t *testing.T) {
	m := newNine(t)
	x, p := []float64{14, 0, 14, 0, 14, 2.5, 2.5}, ratedParams(Healthy, 2875)
	f, jac, dfdp := make([]float64, nineSize), make([]float64, nineSize*nineSize), make([]float64, nineSize*NumParams)
	if n := testing.AllocsPerRun(100, func() {
		m.Stamp(x, p, f, jac)
		m.Grad(x, p, dfdp)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkNineStamp(b *testing.B) {
	m := newNine(b)
	x, p := []float64{14, 0, 14, 0, 14, 2.5, 2.5}, ratedParams(Healthy, 2875)
	f, jac := make([]float64, nineSize), make([]float64, nineSize*nineSize)
	for b.Loop() {
		clear(f)
		clear(jac)
		m.Stamp(x, p, f, jac)
	}
}
