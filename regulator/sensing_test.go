package regulator

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"chargewright/circuit"
	"chargewright/internal/near"
)

var _ circuit.Device = Sensing{}

func evalSensing(d Sensing, x, p []float64) (f, jac, dfdp []float64) {
	f, jac, dfdp = make([]float64, sensingSize), make([]float64, sensingSize*sensingSize), make([]float64, sensingSize*Params)
	d.Stamp(x, p, f, jac)
	d.Grad(x, p, dfdp)
	return f, jac, dfdp
}

// widened is a point of Device as Sensing has it, the sense terminal apart.
func widened(t *rapid.T) (Sensing, []float64, []float64) {
	d, x, p := drawn(t)
	at := rapid.Float64Range(-1, 18).Draw(t, "sense") * scale(d.Volts)
	return Sensing(d), []float64{x[supply], x[field], x[ground], at, x[current]}, p
}

// The bar is that of Device, whose output stage this is.
func TestSensingDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, x, p := widened(t)
		f, jac, dfdp := evalSensing(d, x, p)
		values := func() []float64 { f, _, _ := evalSensing(d, x, p); return f }
		same := func(what string, row, k int, got, want, step float64) {
			lost := 4e-15 * (40 + blocking*math.Max(-x[sensingCurrent], 0)) / step
			if !(math.Abs(got-want) <= 1e-6*(math.Abs(got)+0.01)+lost) {
				t.Fatalf("d row %d by %s %d: closed form %v, central difference %v", row, what, k, got, want)
			}
		}
		for k := range x {
			const step = 1e-6
			for row, want := range differences(values, x, k, step) {
				same("unknown", row, k, jac[row*sensingSize+k], want, step)
			}
		}
		for k, step := range []float64{Duty: 1e-5, Drop: 1e-5, OnOhms: 1e-6, Freewheel: 1e-5, FreewheelOhms: 1e-6} {
			for row, want := range differences(values, p, k, step) {
				same("parameter", row, k, dfdp[row*Params+k], want, step)
			}
		}
		if sum := f[supply] + f[field] + f[ground] + f[sense]; math.Abs(sum) > 1e-12 {
			t.Fatalf("the terminal currents leave %v A", sum)
		}
	})
}

// TestSensingIsDevice: with sense and supply on one wire it is Device and a
// divider beside it.
func TestSensingIsDevice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, x, p := widened(t)
		x[sense] = x[supply]
		f, _, _ := evalSensing(d, x, p)
		g, _, _ := eval(Device(d), []float64{x[supply], x[field], x[ground], x[sensingCurrent]}, p)
		divider := (x[sense] - x[ground]) / senseOhms
		for _, c := range []struct {
			name      string
			got, want float64
		}{
			{"supply", f[supply] + f[sense], g[supply] + divider},
			{"field", f[field], g[field]},
			{"case", f[ground], g[ground] - divider},
			{"own equation", f[sensingCurrent], g[current]},
		} {
			// Both sides are sums of the same few terms.
			if math.Abs(c.got-c.want) > 1e-12*(1+math.Abs(c.want)) {
				t.Fatalf("%s: %v, want %v", c.name, c.got, c.want)
			}
		}
	})
}

// TestSensingWakes: without its ignition wire the output stage sleeps, whatever
// the sense wire carries; the field cannot run the battery flat with the key off.
func TestSensingWakes(t *testing.T) {
	f, _, _ := evalSensing(Sensing{}, []float64{0, 14.7, 0, 14, 0}, Sensing{}.Healthy(1))
	if math.Abs(f[field]) > 0 || math.Abs(f[ground]) > 0.01 {
		t.Errorf("asleep: %v", f)
	}
	near.Check(t, "divider", f[sense], 14.0/2000, near.Tol{Rel: 1e-12}, "memory: 2 kOhm")
}

func TestSensingAllocatesNothing(t *testing.T) {
	x, p := []float64{14, 3, 0, 14, 2}, Sensing{}.Healthy(0.7)
	f, jac, dfdp := make([]float64, sensingSize), make([]float64, sensingSize*sensingSize), make([]float64, sensingSize*Params)
	if n := testing.AllocsPerRun(100, func() { Sensing{}.Stamp(x, p, f, jac); Sensing{}.Grad(x, p, dfdp) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
