package regulator

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"chargewright/circuit"
	"chargewright/internal/near"
)

var _ circuit.Device = Device{}

func eval(d Device, x, p []float64) (f, jac, dfdp []float64) {
	f, jac, dfdp = make([]float64, size), make([]float64, size*size), make([]float64, size*Params)
	d.Stamp(x, p, f, jac)
	d.Grad(x, p, dfdp)
	return f, jac, dfdp
}

// differences is the derivative of f by which[k]: central differences with the
// step and half of it, their second-order error taken out (Richardson).
func differences(f func() []float64, which []float64, k int, step float64) []float64 {
	old := which[k]
	at := func(d float64) []float64 {
		which[k] = old + d
		y := f()
		which[k] = old
		return y
	}
	up, down, high, low := at(step), at(-step), at(step/2), at(-step/2)
	out := make([]float64, len(up))
	for i := range out {
		out[i] = (4*(high[i]-low[i])/step - (up[i]-down[i])/(2*step)) / 3
	}
	return out
}

func drawn(t *rapid.T) (Device, []float64, []float64) {
	d := Device{rapid.SampledFrom([]float64{0, 6, 12, 24}).Draw(t, "nominal")}
	k := scale(d.Volts)
	x := []float64{rapid.Float64Range(-1, 18).Draw(t, "supply") * k, rapid.Float64Range(-1, 18).Draw(t, "field") * k, rapid.Float64Range(-1, 3).Draw(t, "case"), 0}
	// Blocked backwards, the terminal's voltage is 1e4 ohm times the current:
	// 0.1 A in reverse is 1 kV, beyond any solution.
	x[current] = rapid.OneOf(rapid.Float64Range(-0.1, 20), rapid.Float64Range(-0.03, 0.1)).Draw(t, "i")
	p := make([]float64, Params)
	p[Duty] = rapid.OneOf(rapid.Float64Range(-0.02, 1.02), rapid.SampledFrom([]float64{0.001, 0.999})).Draw(t, "duty")
	p[Drop] = rapid.Float64Range(-0.02, 3).Draw(t, "drop")
	p[OnOhms] = rapid.Float64Range(0, 2).Draw(t, "on")
	p[Freewheel] = rapid.Float64Range(-0.02, 2).Draw(t, "freewheel")
	p[FreewheelOhms] = rapid.Float64Range(0, 2).Draw(t, "freewheel ohms")
	return d, x, p
}

// The tolerance is the project's bar, 1e-6 of the derivative plus 1e-6 of a
// scale: 0.01, near the smallest resistance that matters. The subtraction loses
// some 1e-16 of the largest term for each operation behind it, over the step.
func TestDeviceDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, x, p := drawn(t)
		f, jac, dfdp := eval(d, x, p)
		values := func() []float64 { f, _, _ := eval(d, x, p); return f }
		same := func(what string, row, k int, got, want, step float64) {
			lost := 4e-15 * (40 + blocking*math.Max(-x[current], 0)) / step
			if !(math.Abs(got-want) <= 1e-6*(math.Abs(got)+0.01)+lost) {
				t.Fatalf("d row %d by %s %d: closed form %v, central difference %v", row, what, k, got, want)
			}
		}
		for k := range x {
			const step = 1e-6 // blocking bends within some milliamps
			for row, want := range differences(values, x, k, step) {
				same("unknown", row, k, jac[row*size+k], want, step)
			}
		}
		for k, step := range []float64{Duty: 1e-5, Drop: 1e-5, OnOhms: 1e-6, Freewheel: 1e-5, FreewheelOhms: 1e-6} {
			for row, want := range differences(values, p, k, step) {
				same("parameter", row, k, dfdp[row*Params+k], want, step)
			}
		}
		if sum := f[supply] + f[field] + f[ground]; math.Abs(sum) > 1e-12 {
			t.Fatalf("the terminal currents leave %v A", sum)
		}
	})
}

// The own equation keeps its diagonal everywhere that both duties and resistances
// are in range.
func TestDiagonal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, x, p := drawn(t)
		p[Duty] = math.Min(math.Max(p[Duty], 0), 1)
		if _, jac, _ := eval(d, x, p); !(jac[size*size-1] <= -5e-4) {
			t.Fatalf("diagonal %v", jac[size*size-1])
		}
	})
}

func TestWildPoints(t *testing.T) {
	for _, v := range []float64{-1e6, 0, 1e6} {
		for _, i := range []float64{-1e4, 0, 1e-300, 1e4} {
			for _, q := range []float64{-1e3, 0, 1e3} {
				f, jac, dfdp := eval(Device{}, []float64{v, -v, 0, i}, []float64{q, q, q, q, q})
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

// fieldCurrent solves the output stage with a rotor of r ohm and a brush drop
// between a feed and the field terminal, supply on the same feed.
func fieldCurrent(d Device, p []float64, feed, r, brush float64) float64 {
	lo, hi := 0.0, 50.0
	for range 100 {
		i := (lo + hi) / 2
		f, _, _ := eval(d, []float64{feed, feed - brush - r*i, 0, i}, p)
		if f[current] > 0 { // the terminal stands too high: more current
			lo = i
		} else {
			hi = i
		}
	}
	return lo
}

// The average against the switched circuit itself, followed period by period
// with exact exponentials until it repeats.
func TestAverageAgainstSwitching(t *testing.T) {
	const feed, r, brush, henry, period = 14.0, 4.8, 0.6, 0.2, 2e-3
	for _, duty := range []float64{0.2, 0.3, 0.5, 0.8, 1} {
		p := Device{}.Healthy(duty)
		// On: L di/dt = feed - brush - drop - (r + on) i; off: -brush -
		// freewheel - (r + fwo) i.
		rOn, rOff := r+p[OnOhms], r+p[FreewheelOhms]
		endOn, endOff := (feed-brush-p[Drop])/rOn, -(brush+p[Freewheel])/rOff
		step := func(i, end, ohms, dt float64) (after, charge float64) {
			tau := henry / ohms
			after = end + (i-end)*math.Exp(-dt/tau)
			return after, end*dt + (i-after)*tau
		}
		i, mean := 0.0, 0.0
		for range 2000 {
			var a, b float64
			i, a = step(i, endOn, rOn, duty*period)
			i, b = step(i, endOff, rOff, (1-duty)*period)
			mean = (a + b) / period
		}
		if i < 0.1 {
			t.Fatalf("duty %v: the current is not continuous, the average does not apply", duty)
		}
		got := fieldCurrent(Device{}, p, feed, r, brush)
		// What the average leaves out: the fading of the drops at small current,
		// (knee/i)^2/2 of some 0.65 V over 4.85 ohm, 1.7 mA at 0.3 A; and the
		// product of the ripples of current and resistance, below 1e-4 of it.
		tol := near.Tol{Rel: 2e-4, Abs: 2e-3}
		near.Check(t, "field current", got, mean, tol, "closed form: switched R-L circuit, exact exponentials, periodic after 2000 periods")
	}
}

func TestOutputStage(t *testing.T) {
	full := fieldCurrent(Device{}, Device{}.Healthy(1), 14, 4.8, 0.6)
	near.Check(t, "full field", full, (14-0.6-0.6)/(4.8+0.05), near.Tol{Rel: 1e-3}, "closed form: (V - brush - saturation)/(rotor + output stage)")
	if off := fieldCurrent(Device{}, Device{}.Healthy(0), 14, 4.8, 0); off > 1e-6 {
		t.Errorf("no duty gives %v A", off)
	}
	if asleep := fieldCurrent(Device{}, Device{}.Healthy(1), 3.9, 4.8, 0); asleep > 1e-6 {
		t.Errorf("3.9 V supply gives %v A", asleep)
	}
	if half := fieldCurrent(Device{24}, Device{24}.Healthy(1), 7.9, 20, 0); half > 1e-6 {
		t.Errorf("7.9 V supply of a 24 V set gives %v A", half)
	}
	// Worn output stage: 3 V saturation acts as a field resistance.
	p := Device{}.Healthy(1)
	p[Drop] = 3
	near.Check(t, "worn stage", fieldCurrent(Device{}, p, 14, 4.8, 0.6), (14-0.6-3)/4.85, near.Tol{Rel: 1e-3}, "closed form: (V - brush - saturation)/(rotor + output stage)")
}

// A field terminal shorted to earth draws nothing to speak of out of the supply
// through the freewheel diode, whatever the duty short of always.
func TestFreewheelBlocks(t *testing.T) {
	for _, duty := range []float64{0, 0.2, 0.9} {
		lo, hi := -10.0, 10.0
		p := Device{}.Healthy(duty)
		for range 100 {
			i := (lo + hi) / 2
			if f, _, _ := eval(Device{}, []float64{14, 0, 0, i}, p); f[current] > 0 {
				lo = i
			} else {
				hi = i
			}
		}
		if lo < -0.02 || lo > 0 {
			t.Errorf("duty %v: %v A in reverse", duty, lo)
		}
	}
}

func TestOwnDraw(t *testing.T) {
	f, _, _ := eval(Device{}, []float64{12, 12, 0, 0}, Device{}.Healthy(0))
	near.Check(t, "own draw", f[supply], 0.020, near.Tol{Rel: 1e-12}, "memory")
}

// The solver calls these hundreds of thousands of times.
func TestNoAllocation(t *testing.T) {
	x, p := []float64{14, 3, 0, 2}, Device{}.Healthy(0.7)
	f, jac, dfdp := make([]float64, size), make([]float64, size*size), make([]float64, size*Params)
	if n := testing.AllocsPerRun(100, func() { Device{}.Stamp(x, p, f, jac); Device{}.Grad(x, p, dfdp) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkStamp(b *testing.B) {
	x, p := []float64{14, 3, 0, 2}, Device{}.Healthy(0.7)
	f, jac := make([]float64, size), make([]float64, size*size)
	for b.Loop() {
		Device{}.Stamp(x, p, f, jac)
	}
}
