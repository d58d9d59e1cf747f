package regulator

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"chargewright/internal/near"
)

func drawnLaw(t *rapid.T) (Law, float64, []float64) {
	l := Law{Volts: rapid.SampledFrom([]float64{0, 6, 12, 24}).Draw(t, "nominal")}
	k := scale(l.Volts)
	p := make([]float64, LawParams)
	p[SetPoint] = rapid.Float64Range(12, 16).Draw(t, "set") * k
	p[Slope] = rapid.Float64Range(-0.03, 0.005).Draw(t, "slope") * k
	p[Band] = rapid.Float64Range(0, 0.8).Draw(t, "band") * k
	p[Temperature] = rapid.Float64Range(240, 400).Draw(t, "T")
	p[Stuck] = rapid.OneOf(rapid.Float64Range(-1.2, 1.2), rapid.SampledFrom([]float64{-1, 0, 1})).Draw(t, "stuck")
	v := rapid.Float64Range(0, 20).Draw(t, "v") * k
	if rapid.Bool().Draw(t, "in the band") {
		mid, _ := l.middle(p)
		v = mid + p[Band]*rapid.Float64Range(-1, 1).Draw(t, "bands")
	}
	return l, v, p
}

// The duty is of order 1; the bar is 1e-6 of the derivative plus 1e-6 of a
// scale of 1 per volt, plus what the subtraction loses (2e-16 a time of the
// voltage over the narrowest band, over the step).
func TestLawDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, v, p := drawnLaw(t)
		d, dddv := l.Duty(v, p)
		if !(d >= 0 && d <= 1) || dddv > 0 {
			t.Fatalf("duty %v, slope %v", d, dddv)
		}
		out := make([]float64, LawParams)
		l.Grad(v, p, out)
		same := func(what string, got, want, step float64) {
			lost := 1e-15 * (1 + 20/math.Max(p[Band], bandCreep)) / step
			if !(math.Abs(got-want) <= 1e-6*(math.Abs(got)+1)+lost) {
				t.Fatalf("d duty by %s: closed form %v, central difference %v", what, got, want)
			}
		}
		x := []float64{v}
		duty := func() []float64 { d, _ := l.Duty(x[0], p); return []float64{d} }
		step := 3e-4 * math.Max(p[Band], bandCreep)
		same("volts", dddv, differences(duty, x, 0, step)[0], step)
		for k, h := range []float64{SetPoint: step, Slope: step / 100, Band: step / 2, Temperature: 20 * step, Stuck: 1e-4} {
			same([]string{"set-point", "slope", "band", "temperature", "stuck"}[k], out[k], differences(duty, p, k, h)[0], h)
		}
	})
}

func TestLaw(t *testing.T) {
	l := Law{}
	p := l.Healthy(300.15)
	at := func(v float64) float64 { d, _ := l.Duty(v, p); return d }
	near.Check(t, "middle of the band", at(14.1), 0.5, near.Tol{Abs: 1e-12}, "closed form: the soft clamp is symmetrical")
	// Half of the corner's reach: w^2/x on each side, with w = 0.02 of the band.
	near.Check(t, "a quarter of the band up", at(14.15), 0.25, near.Tol{Abs: 2e-3}, "closed form: (V_set + B/2 - v)/B")
	near.Check(t, "far below", at(11), 1, near.Tol{Abs: 1e-5}, "closed form: full field, less w^2/x^2")
	near.Check(t, "far above", at(16.5), 0, near.Tol{Abs: 1e-5}, "closed form: no field, plus w^2/x^2")

	v, d, slope := l.Straight(p)
	near.Check(t, "voltage of the middle", v, 14.1, near.Tol{Abs: 1e-12}, "closed form: the set-point")
	near.Check(t, "duty of the middle", d, 0.5, near.Tol{Abs: 1e-12}, "closed form: the soft clamp is symmetrical")
	// Each corner takes w^2/(1/2)^2 = 1.6e-3 of the slope there.
	near.Check(t, "slope of the middle", slope, -1/0.2, near.Tol{Rel: 4e-3}, "closed form: -1/band, less two corners")

	cold, hot := l.Healthy(253.15), l.Healthy(333.15)
	mid := func(p []float64) float64 { v, _ := l.middle(p); return v }
	near.Check(t, "at -20 degC", mid(cold), 14.57, near.Tol{Abs: 1e-12}, "closed form: 14.1 - 0.010 x (-47)")
	near.Check(t, "at 60 degC", mid(hot), 13.77, near.Tol{Abs: 1e-12}, "closed form: 14.1 - 0.010 x 33")
	near.Check(t, "24 V", func() float64 { v, _ := (Law{Volts: 24}).middle((Law{Volts: 24}).Healthy(300.15)); return v }(), 28.2, near.Tol{Abs: 1e-12}, "closed form: twice 12 V")
	arctic := l.Healthy(100)
	near.Check(t, "compensation ends", mid(arctic), 15.0, near.Tol{Abs: 0.5}, "memory: clamp at 15.0 V, 0.5 V creep")

	p[Stuck] = -1
	near.Check(t, "stuck off", at(11), 0, near.Tol{Abs: 1e-15}, "closed form: override")
	p[Stuck] = 1
	near.Check(t, "stuck on", at(17), 1, near.Tol{Abs: 1e-15}, "closed form: override")
	_, _, slope = l.Straight(p)
	near.Check(t, "slope when stuck", slope, 0, near.Tol{Abs: 1e-15}, "closed form: override")
}

func TestLawStaysFinite(t *testing.T) {
	out := make([]float64, LawParams)
	for _, q := range []float64{-1e9, 0, 1e9} {
		for _, v := range []float64{-1e9, 0, 1e9} {
			p := []float64{q, q, q, q, q}
			d, s := Law{}.Duty(v, p)
			Law{}.Grad(v, p, out)
			for _, y := range append([]float64{d, s}, out...) {
				if math.IsNaN(y) || math.IsInf(y, 0) {
					t.Fatalf("p %v v %v: duty %v slope %v grad %v", q, v, d, s, out)
				}
			}
			if d < 0 || d > 1 {
				t.Fatalf("duty %v", d)
			}
		}
	}
}
