package regulator

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"chargewright/circuit"
	"chargewright/internal/near"
)

var _ circuit.Device = Contacts{}

func evalContacts(c Contacts, x, p []float64) (f, jac, dfdp []float64) {
	f, jac, dfdp = make([]float64, size), make([]float64, size*size), make([]float64, size*ContactParams)
	c.Stamp(x, p, f, jac)
	c.Grad(x, p, dfdp)
	return f, jac, dfdp
}

func drawnContacts(t *rapid.T) (Contacts, []float64, []float64) {
	c := Contacts{rapid.SampledFrom([]float64{0, 6, 12, 24}).Draw(t, "nominal")}
	k := scale(c.Volts)
	x := []float64{
		rapid.Float64Range(-1, 18).Draw(t, "supply") * k, rapid.Float64Range(-1, 18).Draw(t, "field") * k,
		rapid.Float64Range(-1, 3).Draw(t, "case"), rapid.OneOf(rapid.Float64Range(-2, 20), rapid.Float64Range(-0.1, 0.1)).Draw(t, "i"),
	}
	p := make([]float64, ContactParams)
	p[Duty] = rapid.OneOf(rapid.Float64Range(-0.02, 1.02), rapid.Float64Range(0.44, 0.56)).Draw(t, "duty")
	p[Drop] = rapid.Float64Range(-0.02, 2).Draw(t, "drop")
	p[OnOhms] = rapid.Float64Range(0, 50).Draw(t, "contact")
	p[SeriesOhms] = rapid.Float64Range(0, 60).Draw(t, "series")
	p[CoilOhms] = rapid.Float64Range(0.2, 200).Draw(t, "winding")
	return c, x, p
}

// The bar is Device's: 1e-6 of the derivative plus 1e-6 of a scale of 0.01, and
// what the subtraction loses: 1e-16 a time of the largest term, 60 ohm times
// 20 A, over the step.
func TestContactDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, x, p := drawnContacts(t)
		f, jac, dfdp := evalContacts(c, x, p)
		values := func() []float64 { f, _, _ := evalContacts(c, x, p); return f }
		same := func(what string, row, k int, got, want, step float64) {
			lost := 4e-15 * (40 + p[SeriesOhms]*math.Abs(x[current])) / step
			if !(math.Abs(got-want) <= 1e-6*(math.Abs(got)+0.01)+lost) {
				t.Fatalf("d row %d by %s %d: closed form %v, central difference %v", row, what, k, got, want)
			}
		}
		for k := range x {
			const step = 1e-5
			for row, want := range differences(values, x, k, step) {
				same("unknown", row, k, jac[row*size+k], want, step)
			}
		}
		for k, step := range []float64{Duty: 1e-5, Drop: 1e-5, OnOhms: 1e-6, SeriesOhms: 1e-5, CoilOhms: 1e-5} {
			for row, want := range differences(values, p, k, step) {
				same("parameter", row, k, dfdp[row*ContactParams+k], want, step)
			}
		}
		if sum := f[supply] + f[field] + f[ground]; math.Abs(sum) > 1e-10 {
			t.Fatalf("the terminal currents leave %v A", sum)
		}
	})
}

// The own equation falls with the current and keeps its diagonal: the least of the
// three ways is a closed first pair of half a milliohm. Were it to rise, what holds an
// unknown back in circuit's false transient would drive this one away.
func TestContactDiagonal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, x, p := drawnContacts(t)
		p[Duty] = math.Min(math.Max(p[Duty], 0), 1)
		if _, jac, _ := evalContacts(c, x, p); !(jac[size*size-1] <= -4e-4) {
			t.Fatalf("diagonal %v", jac[size*size-1])
		}
	})
}

func TestContactsStayFinite(t *testing.T) {
	for _, v := range []float64{-1e6, 0, 1e6} {
		for _, i := range []float64{-1e4, 0, 1e-300, 1e4} {
			for _, q := range []float64{-1e3, 0, 1e6} {
				f, jac, dfdp := evalContacts(Contacts{}, []float64{v, -v, 0, i}, []float64{q, q, q, q, q})
				for _, list := range [][]float64{f, jac, dfdp} {
					for _, y := range list {
						if math.IsNaN(y) || math.IsInf(y, 0) {
							t.Fatalf("v %v i %v p %v: %v", v, i, q, list)
						}
					}
				}
			}
		}
	}
}

// fed solves the contacts with a rotor of r ohm and a brush drop from the field
// terminal to earth; it returns the field's current and the supply's.
func fed(c Contacts, p []float64, feed, r, brush float64) (amps, taken float64) {
	lo, hi := 0.0, 50.0
	var f []float64
	for range 100 {
		amps = (lo + hi) / 2
		f, _, _ = evalContacts(c, []float64{feed, brush + r*amps, 0, amps}, p)
		if f[current] > 0 { // the terminal stands too low: more current
			lo = amps
		} else {
			hi = amps
		}
	}
	return amps, f[supply]
}

const supplies, rotor, brushes = 14.0, 4.8, 0.6

// TestContactPositions: the three ways of the field terminal, one at a time.
func TestContactPositions(t *testing.T) {
	p := Contacts{}.Healthy(1)
	full, taken := fed(Contacts{}, p, supplies, rotor, brushes)
	// What the fading drop leaves out: (knee/i)^2/2 of 0.1 V.
	near.Check(t, "first pair closed", full, (supplies-brushes-0.1)/(rotor+0.05), near.Tol{Rel: 1e-3}, "closed form: (V - brush - drop)/(rotor + contact); the resistance beside it takes 1/200")
	near.Check(t, "what it takes", taken, full+supplies/60, near.Tol{Rel: 1e-9}, "closed form: field and winding")

	p[Duty] = 0.5
	s := sharesOf(0.5)
	g := 1/10.0 + 1/0.1
	volts := s.first*(supplies-0.1*10/10.05) + (1-s.first-s.second)*supplies + s.second*supplies/10/g
	ohms := s.first*10*0.05/10.05 + (1-s.first-s.second)*10 + s.second/g
	weak, _ := fed(Contacts{}, p, supplies, rotor, brushes)
	near.Check(t, "between the pairs", weak, (volts-brushes)/(rotor+ohms), near.Tol{Rel: 1e-3}, "closed form: means of what feeds, each for its share")
	near.Check(t, "nearly the resistance alone", weak, (supplies-brushes)/(rotor+10), near.Tol{Rel: 0.05}, "closed form: (V - brush)/(rotor + series); each pair a tenth of the time")

	p[Duty] = 0
	// No current: the terminal stands at what the divider gives, under the brush drop.
	dead, taken := fed(Contacts{}, p, supplies, rotor, brushes)
	if dead > 1e-9 {
		t.Errorf("second pair closed gives %v A", dead)
	}
	near.Check(t, "second pair closed takes", taken, supplies/10.1+supplies/60, near.Tol{Rel: 1e-9}, "closed form: V/(series + second pair) and winding")
}

// TestContactsWorn: burnt contacts leave what the resistance passes; both open
// leave nothing.
func TestContactsWorn(t *testing.T) {
	p := Contacts{}.Healthy(1)
	p[OnOhms] = 5
	burnt, _ := fed(Contacts{}, p, supplies, rotor, brushes)
	near.Check(t, "burnt contacts", burnt, (supplies-brushes-0.1*10/15)/(rotor+5*10/15.0), near.Tol{Rel: 1e-3}, "closed form: contact and resistance side by side")
	p[OnOhms] = 1e6
	open, _ := fed(Contacts{}, p, supplies, rotor, brushes)
	near.Check(t, "contacts open", open, (supplies-brushes)/(rotor+10), near.Tol{Rel: 1e-4}, "closed form: the resistance alone")
	p[SeriesOhms] = 1e6
	if none, _ := fed(Contacts{}, p, supplies, rotor, brushes); none > 1e-4 {
		t.Errorf("both open give %v A", none)
	}
}

// TestShares: nothing is left at the ends, and the two differ by 2 duty - 1.
func TestShares(t *testing.T) {
	for _, d := range []float64{0, 0.2, 0.5, 0.7, 1} {
		s := sharesOf(d)
		near.Check(t, "first less second", s.first-s.second, 2*d-1, near.Tol{Abs: 1e-14}, "closed form: part(x) - part(-x) = x")
		if s.first < -1e-15 || s.second < -1e-15 || s.first+s.second > 1+1e-15 {
			t.Errorf("duty %v: shares %+v", d, s)
		}
	}
	near.Check(t, "second at full field", sharesOf(1).second, 0, near.Tol{Abs: 1e-15}, "closed form: the share at the end is taken off")
}

// TestContactsFieldFallsWithDuty: the field falls over the whole range, so the
// law finds one place on it.
func TestContactsFieldFallsWithDuty(t *testing.T) {
	last := math.Inf(1)
	for d := 1.0; d >= 0; d -= 0.01 {
		amps, _ := fed(Contacts{}, Contacts{}.Healthy(d), supplies, rotor, brushes)
		if amps > last+1e-12 {
			t.Fatalf("duty %.2f gives %v A, more duty gave %v A", d, amps, last)
		}
		last = amps
	}
}

// TestContactsWithoutEarth: with no earth the winding pulls nothing, so what is
// sensed, supply to case, is nothing and the first pair stays closed. The case
// then stands at the supply's volts.
func TestContactsWithoutEarth(t *testing.T) {
	c := Contacts{}
	law := c.HealthyLaw(300.15)
	d, _ := Law{}.Duty(0, law)
	if d < 0.9999 {
		t.Errorf("duty %v at nothing sensed", d)
	}
	f, _, _ := evalContacts(c, []float64{14, 13, 14, 2}, c.Healthy(d))
	if math.Abs(f[ground]) > 1e-3 {
		t.Errorf("%v A through a case that hangs on nothing", f[ground])
	}
}

// TestContactsAgainstSwitching holds the average against the switched circuit
// itself, followed vibration by vibration with exact exponentials until it
// repeats: 100 Hz (50 to 200, memory), the field 0.2 H.
func TestContactsAgainstSwitching(t *testing.T) {
	const henry, period = 0.2, 1 / 100.0
	p := Contacts{}.Healthy(1)
	ohms, series := p[OnOhms], p[SeriesOhms]
	both := ohms * series / (ohms + series)
	g := 1/series + 1/secondOhms
	type way struct{ volts, ohms float64 } // what the field sees [V], behind [Ohm]
	closed := way{supplies - p[Drop]*series/(ohms+series), rotor + both}
	open := way{supplies, rotor + series}
	earthed := way{supplies / series / g, rotor + 1/g}
	step := func(i float64, w way, dt float64) (after, charge float64) {
		end, tau := (w.volts-brushes)/w.ohms, henry/w.ohms
		after = end + (i-end)*math.Exp(-dt/tau)
		return after, end*dt + (i-after)*tau
	}
	worst := 0.0
	for _, duty := range []float64{0.95, 0.8, 0.65, 0.5, 0.4, 0.3, 0.2} {
		s := sharesOf(duty)
		i, mean := 0.0, 0.0
		for range 2000 {
			var a, b, c, d float64
			between := (1 - s.first - s.second) / 2 // the armature passes the middle twice
			i, a = step(i, closed, s.first*period)
			i, b = step(i, open, between*period)
			i, c = step(i, earthed, s.second*period)
			i, d = step(i, open, between*period)
			mean = (a + b + c + d) / period
		}
		if i < 0.05 {
			t.Fatalf("duty %v: the field's current is not continuous, the average does not apply", duty)
		}
		p[Duty] = duty
		got, _ := fed(Contacts{}, p, supplies, rotor, brushes)
		// The current is not the same in both parts of a vibration. It bends
		// within each, by the part over the time constant: 10 ms over 14 to 40 ms.
		// The parts' means differ by that ratio squared over 12 of the current's
		// own swing, at most 1 %; and the drop fades at small current as in Device.
		near.Check(t, "field current", got, mean, near.Tol{Rel: 1e-2, Abs: 2e-3}, "closed form: switched R-L circuit, exact exponentials, periodic after 2000 vibrations")
		worst = math.Max(worst, math.Abs(got/mean-1))
	}
	t.Logf("largest difference %.2f %%", 100*worst)
}

// TestContactLaw: what the trade says of vibrating contacts against electronic
// ones: a wider band and a steeper slope, at about the same voltage.
func TestContactLaw(t *testing.T) {
	for _, volts := range []float64{6, 12, 24} {
		c, l := Contacts{volts}, Law{Volts: volts}
		own, electronic := c.HealthyLaw(300.15), l.Healthy(300.15)
		k := volts / 12
		near.Check(t, "middle", own[SetPoint], 14.2*k, near.Tol{Abs: 1e-12}, "memory: 13.8 to 14.6 V")
		if own[Band] < 0.4*k || own[Band] > 0.8*k || own[Band] <= electronic[Band] {
			t.Errorf("band %v V; memory: 0.4 to 0.8 V for both pairs", own[Band])
		}
		if own[Slope] < -0.020*k || own[Slope] > -0.015*k {
			t.Errorf("slope %v V/K; memory: -15 to -20 mV/K", own[Slope])
		}
		// At half duty the voltage is the set-point: both pairs open.
		d, _ := l.Duty(own[SetPoint], own)
		near.Check(t, "middle of the band", d, 0.5, near.Tol{Abs: 1e-12}, "closed form: the soft clamp is symmetrical")
	}
	c := Contacts{}
	mid := func(kelvin float64) float64 { v, _ := Law{}.middle(c.HealthyLaw(kelvin)); return v }
	near.Check(t, "at 0 degC", mid(273.15), 14.659, near.Tol{Abs: 1e-9}, "closed form: 14.2 - 0.017 x (-27)")
	near.Check(t, "at -40 degC", mid(233.15), 15.0, near.Tol{Abs: 0.5}, "memory: compensation ends at 15.0 V, 0.5 V creep")
	if mid(233.15) < 15 {
		t.Errorf("%v V at -40 degC, where 15.34 V are asked for", mid(233.15))
	}
}

func TestContactsAllocateNothing(t *testing.T) {
	x, p := []float64{14, 10, 0, 2}, Contacts{}.Healthy(0.7)
	f, jac, dfdp := make([]float64, size), make([]float64, size*size), make([]float64, size*ContactParams)
	if n := testing.AllocsPerRun(100, func() { Contacts{}.Stamp(x, p, f, jac); Contacts{}.Grad(x, p, dfdp) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
