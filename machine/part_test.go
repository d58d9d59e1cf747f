package machine

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"
)

// drawPart is a running machine with a growing fault anywhere between its ends.
func drawPart(rng *rand.Rand, p Pattern) (x, q []float64) {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	q = ratedParams(p, 1150*math.Pow(10000.0/1150, rng.Float64()))
	q[Inductance] = ratedHenries * between(0.75, 1.25)
	q[StatorOhms] = between(0.06, 0.2)
	q[Flux] = ratedK * between(0.5, 1.05)
	q[FaultOhms] = 0.01 * math.Pow(3000, rng.Float64()) // 10 mOhm to 30 Ohm
	return []float64{between(12, 15.5), 0, 12, 0, ratedKnee}, q
}

// The tables of growing faults against our own time-domain solver; bars as the
// end patterns have.
func TestPartsAgainstTimeDomain(t *testing.T) {
	m := newRated(t)
	for _, p := range PartPatterns {
		rng := rand.New(rand.NewPCG(12, uint64(p)))
		var square, worst, order, crest float64
		n := 0
		for range 60 {
			x, q := drawPart(rng, p)
			c := m.Point(x, q)
			c.Steps = 361
			s, err := SteadyState(c)
			if err != nil {
				t.Fatal(err)
			}
			for o := range NumOutputs {
				e := math.Abs(m.Ripple(x, q, o, nil, nil) - s.Out[o])
				switch {
				case o == Mean:
					worst = max(worst, e)
					if s.Out[Mean] > 2 {
						square += math.Pow(e/s.Out[Mean], 2)
						n++
					}
				case o == PeakToPeak:
					crest = max(crest, e)
				default:
					order = max(order, e)
				}
			}
		}
		rms := math.Sqrt(square / float64(n))
		t.Logf("%-12v mean: rms %.2f %%, max %.3f A; orders and rms max %.3f A; peak to peak max %.3f A", p, 100*rms, worst, order, crest)
		if rms > 0.01 || worst > 0.3 || order > 0.3 || crest > 0.6 {
			t.Errorf("%v: rms %.2f %%, max %.3f A, orders %.3f A, peak to peak %.3f A", p, 100*rms, worst, order, crest)
		}
	}
}

// At its ends a growing fault is the patterns that it grows between, exactly:
// closed form: the table holds nothing there.
func TestPartsEndWhereTheyShould(t *testing.T) {
	m := newRated(t)
	rng := rand.New(rand.NewPCG(13, 1))
	for range 300 {
		x, p := draw(rng)
		for _, c := range []struct {
			part, is Pattern
			ohms     float64
		}{{PhaseJoint, Healthy, 0}, {PhaseJoint, PhaseOpen, 1e30}, {DiodeLeak, Healthy, 1e30}, {DiodeLeak, DiodeShort, 0}} {
			o := Output(rng.IntN(int(NumOutputs)))
			p[PatternIndex], p[FaultOhms] = float64(c.is), 0
			want := m.Ripple(x, p, o, nil, nil)
			p[PatternIndex], p[FaultOhms] = float64(c.part), c.ohms
			if got := m.Ripple(x, p, o, nil, nil); math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
				t.Errorf("%v at %g Ohm, %v: %.9f A, %v has %.9f", c.part, c.ohms, o, got, c.is, want)
			}
		}
	}
}

// Between its ends the mean output of a growing fault moves one way only, at the
// rated point.
func TestPartsMoveOneWay(t *testing.T) {
	m := newRated(t)
	x := []float64{15, 0, 15, 0, 3}
	for _, p := range PartPatterns {
		q := ratedParams(p, 2875)
		last := math.Inf(1)
		if p == DiodeLeak {
			last = 0
		}
		for ohms := 1e-3; ohms < 1e3; ohms *= 1.2 {
			q[FaultOhms] = ohms
			mean := m.Ripple(x, q, Mean, nil, nil)
			if p == PhaseJoint && mean > last+0.02 || p == DiodeLeak && mean < last-0.02 {
				t.Errorf("%v at %.3g Ohm: %.3f A after %.3f", p, ohms, mean, last)
			}
			last = mean
		}
	}
}

// Derivatives of growing patterns, by FaultOhms too, against differences.
func TestPartDerivativesAgainstDifferences(t *testing.T) {
	m := newRated(t)
	rng := rand.New(rand.NewPCG(7, 3))
	for range 600 {
		x, p := draw(rng)
		p[PatternIndex] = float64(int(NumPatterns) + rng.IntN(int(endPatterns-NumPatterns)))
		p[FaultOhms] = 0.01 * math.Pow(3000, rng.Float64())
		which := Output(rng.IntN(int(NumOutputs)))
		dx, dp := make([]float64, size), make([]float64, NumParams)
		m.Ripple(x, p, which, dx, dp)
		ripple := func() float64 { return m.Ripple(x, p, which, nil, nil) }
		for k := range size {
			closeTo(t, x, p, ripple, &x[k], sizeX[k], dx[k], which, 0, "x", k)
		}
		for k := range PatternIndex {
			closeTo(t, x, p, ripple, &p[k], sizeP[k], dp[k], which, 0, "p", k)
		}
		closeTo(t, x, p, ripple, &p[FaultOhms], p[FaultOhms], dp[FaultOhms], which, 0, "p", FaultOhms)
		if t.Failed() {
			return
		}
	}
}

func TestPartFileRoundTrip(t *testing.T) {
	data, err := tableFiles.ReadFile("tables/" + PartFile(DiodeLeak))
	if err != nil {
		t.Fatal(err)
	}
	tb, err := ParsePartTable(data)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(tb.Encode(), data) {
		t.Error("reading and writing changes the file")
	}
	for what, d := range map[string][]byte{
		"another file":    []byte("something\n\n"),
		"half a file":     data[:len(data)-4000],
		"an odd length":   data[:len(data)-1],
		"an unknown key":  bytes.Replace(data, []byte("\nsolver "), []byte("\nsolved "), 1),
		"no steps":        bytes.Replace(data, []byte("\ngrown 21"), []byte("\ngrown x"), 1),
		"a wrong pattern": bytes.Replace(data, []byte("pattern diode-leak"), []byte("pattern diode-lean"), 1),
	} {
		if _, err := ParsePartTable(d); err == nil {
			t.Errorf("%s is accepted", what)
		}
	}
}

func TestLaterNames(t *testing.T) {
	for p := NumPatterns; p < endPatterns; p++ {
		if q, err := ParsePattern(p.String()); err != nil || q != p {
			t.Errorf("%v comes back as %v, %v", p, q, err)
		}
	}
}
