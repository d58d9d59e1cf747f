package meter

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"chargewright/internal/near"
)

func ptr(x float64) *float64 { return &x }

// ten is for values given to ten figures.
var ten = near.Tol{Abs: 1e-10}

func TestPWithin(t *testing.T) {
	const source = "closed form: normal probability, of an example of JCGM 106:2012 (inputs and two printed figures from memory)"
	cases := []struct {
		name      string
		y, u      float64
		low, high *float64
		want      float64
	}{
		{"breakdown diode, upper limit", -5.47, 0.05, nil, ptr(-5.40), 0.9192433408},
		{"burst pressure, lower limit", 507, 8, ptr(490), nil, 0.9832066936},
		{"two limits", 13.6, 1.8, ptr(12.5), ptr(16.3), 0.6626297865},
		{"no limit", 1, 1, nil, nil, 1},
		{"exact and within", 1, 0, ptr(0), ptr(1), 1},
		{"exact and outside", 2, 0, ptr(0), ptr(1), 0},
	}
	for _, c := range cases {
		near.Check(t, c.name, PWithin(c.y, c.u, c.low, c.high), c.want, ten, source)
	}
	for _, p := range []float64{PWithin(math.NaN(), 1, nil, ptr(1)), PWithin(1, math.NaN(), nil, ptr(1)), PWithin(1, -1, nil, ptr(1)), PWithin(1, 1, ptr(2), ptr(1)), PWithin(1, 1, nil, ptr(math.NaN()))} {
		if Judge(p) != CannotTell {
			t.Errorf("a question without sense gave %v", p)
		}
	}
}

func TestFarTailKeepsItsDigits(t *testing.T) {
	// Phi(-10) = 7.61985302416e-24; a difference of two numbers near 1 would
	// give 0.
	near.Check(t, "upper tail", PWithin(0, 1, ptr(10), nil), 7.61985302416e-24, near.Tol{Rel: 1e-10}, "closed form: erfc(10/sqrt 2)/2")
	near.Check(t, "lower tail", PWithin(0, 1, nil, ptr(-10)), 7.61985302416e-24, near.Tol{Rel: 1e-10}, "closed form: erfc(10/sqrt 2)/2")
}

// The speed that proves, at 99.9 %, that a limit of 100 was passed with a
// relative uncertainty of 2 %.
func TestProvenSpeed(t *testing.T) {
	lo, hi := 100.0, 120.0
	for range 60 {
		mid := (lo + hi) / 2
		if PWithin(mid, 0.02*mid, ptr(100), nil) < 0.999 {
			lo = mid
		} else {
			hi = mid
		}
	}
	near.Check(t, "speed", lo, 106.58761, near.Tol{Abs: 6e-6}, "closed form: 100/(1 - 3.0902 x 0.02), JCGM 106:2012 example (memory), prints 107")
}

// A value just at the acceptance limit, for guard bands of w = m U with U = 2u.
func TestGuardBands(t *testing.T) {
	for _, c := range []struct{ m, want float64 }{{0, 0.5}, {0.83, 0.0484572}, {1, 0.0227501}, {1.5, 0.0013499}} {
		got := 1 - PWithin(10-c.m*2, 1, nil, ptr(10))
		near.Check(t, "accepted wrongly", got, c.want, near.Tol{Abs: 6e-8}, "closed form: Phi(-2m); ILAC G8:09/2019 gives up to 50 % for no guard band, under 2.5 % for w = U (read)")
	}
}

func TestResistorRisks(t *testing.T) {
	const source = "closed form: bivariate normal integrals; inputs of the JCGM 106:2012 resistor example, which prints 1 % and 7 % (memory)"
	cases := []struct{ acc, consumer, producer float64 }{
		{0.18, 0.0098782915, 0.0690265105},
		{0.20, 0.0189422067, 0.0372078002},
		{0.12, 0.0004686336, 0.2476696402},
	}
	for _, c := range cases {
		r, err := Risks(1500, 0.12, 0.04, 1499.8, 1500.2, 1500-c.acc, 1500+c.acc)
		if err != nil {
			t.Fatal(err)
		}
		near.Check(t, "conforming", r.Conform, 0.9044192955, ten, source)
		near.Check(t, "consumer", r.Consumer, c.consumer, ten, source)
		near.Check(t, "producer", r.Producer, c.producer, ten, source)
	}
	if _, err := Risks(0, 0, 1, 0, 1, 0, 1); err == nil {
		t.Error("items without spread were taken")
	}
}

func TestPosterior(t *testing.T) {
	m, s := Posterior(2, 0.3, 1, 0.4)
	near.Check(t, "mean", m, 1+0.16/0.25, rounding, "closed form: weights by inverse variance")
	near.Check(t, "sd", s, 0.24, rounding, "closed form: 0.3 x 0.4 / 0.5")
	if m, s := Posterior(2, 0, 1, 0); m != 1 || s != 0 {
		t.Errorf("two exact values: %v, %v", m, s)
	}
	// A flat prior must give the plain probability back.
	m, s = Posterior(13.6, 1.8, 0, 1e9)
	near.Check(t, "flat prior", PWithin(m, s, ptr(12.5), ptr(16.3)), PWithin(13.6, 1.8, ptr(12.5), ptr(16.3)), near.Tol{Abs: 1e-9}, "closed form: limit of a wide prior")
}

func TestJudge(t *testing.T) {
	for p, want := range map[float64]Verdict{1: Within, 0.95: Within, 0.94: CannotTell, 0.5: CannotTell, 0.06: CannotTell, 0.04: Outside, 0: Outside} {
		if got := Judge(p); got != want {
			t.Errorf("%v: %s", p, got)
		}
	}
}

// Within, above and below exhaust everything.
func TestThreePartsSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.Float64Range(-20, 20).Draw(t, "y")
		u := rapid.Float64Range(1e-3, 10).Draw(t, "u")
		lo := rapid.Float64Range(-20, 20).Draw(t, "low")
		hi := lo + rapid.Float64Range(0, 20).Draw(t, "width")
		in, below, above := PWithin(y, u, &lo, &hi), PWithin(y, u, nil, &lo), PWithin(y, u, &hi, nil)
		if in < 0 || in > 1 || math.Abs(in+below+above-1) > 1e-14 {
			t.Fatalf("%v + %v + %v", below, in, above)
		}
	})
}
