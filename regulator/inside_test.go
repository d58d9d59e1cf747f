package regulator

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"chargewright/circuit"
	"chargewright/internal/near"
)

// insideDevice is one of the two regulators that sit in the machine.
type insideDevice interface {
	circuit.Device
	Grad(x, p, dfdp []float64)
	Healthy(duty float64) []float64
}

var insideDevices = map[string]func(volts float64) insideDevice{
	"lamp":      func(v float64) insideDevice { return Inside{v} },
	"commanded": func(v float64) insideDevice { return Commanded{v} },
}

func evalInside(d insideDevice, x, p []float64) (f, jac, dfdp []float64) {
	_, _, n := d.Size()
	f, jac, dfdp = make([]float64, insideSize), make([]float64, insideSize*insideSize), make([]float64, insideSize*n)
	d.Stamp(x, p, f, jac)
	d.Grad(x, p, dfdp)
	return f, jac, dfdp
}

func drawnInside(t *rapid.T, of func(float64) insideDevice) (insideDevice, []float64, []float64) {
	volts := rapid.SampledFrom([]float64{0, 12, 24}).Draw(t, "nominal")
	k := scale(volts)
	d := of(volts)
	x := []float64{
		rapid.Float64Range(-1, 18).Draw(t, "supply") * k, rapid.Float64Range(-1, 18).Draw(t, "field") * k, rapid.Float64Range(-1, 3).Draw(t, "case"),
		rapid.OneOf(rapid.Float64Range(-1, 16), rapid.Float64Range(0.2, 1.2)).Draw(t, "pin"), 0,
	}
	x[insideCurrent] = rapid.OneOf(rapid.Float64Range(-0.1, 12), rapid.Float64Range(-0.03, 1)).Draw(t, "i")
	p := d.Healthy(0)
	p[Duty] = rapid.Float64Range(-0.02, 1.02).Draw(t, "duty")
	p[Drop] = rapid.Float64Range(-0.02, 3).Draw(t, "drop")
	p[OnOhms] = rapid.Float64Range(0, 2).Draw(t, "on")
	p[Freewheel] = rapid.Float64Range(-0.02, 2).Draw(t, "freewheel")
	p[FreewheelOhms] = rapid.Float64Range(0, 2).Draw(t, "freewheel ohms")
	p[Turning] = rapid.Float64Range(-0.02, 1.02).Draw(t, "turning")
	p[Standing] = rapid.Float64Range(-0.02, 1.02).Draw(t, "standing or answers")
	if len(p) == InsideParams {
		p[Phase] = rapid.Float64Range(0, 30).Draw(t, "phase")
		p[LampOhms] = rapid.Float64Range(0, 20).Draw(t, "lamp ohms")
	}
	return d, x, p
}

// The tolerance is TestDeviceDerivatives': 1e-6 of the derivative plus 1e-6 of a
// scale of 0.01, and what the subtraction loses.
func TestInsideDerivatives(t *testing.T) {
	for name, of := range insideDevices {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				d, x, p := drawnInside(t, of)
				f, jac, dfdp := evalInside(d, x, p)
				values := func() []float64 { f, _, _ := evalInside(d, x, p); return f }
				same := func(what string, row, k int, got, want, step float64) {
					lost := 4e-15 * (40 + blocking*math.Max(-x[insideCurrent], 0)) / step
					if !(math.Abs(got-want) <= 1e-6*(math.Abs(got)+0.01)+lost) {
						t.Fatalf("d row %d by %s %d: closed form %v, central difference %v", row, what, k, got, want)
					}
				}
				for k := range x {
					for row, want := range differences(values, x, k, 1e-6) {
						same("unknown", row, k, jac[row*insideSize+k], want, 1e-6)
					}
				}
				for k := range p {
					for row, want := range differences(values, p, k, 1e-6) {
						same("parameter", row, k, dfdp[row*len(p)+k], want, 1e-6)
					}
				}
				if sum := f[supply] + f[field] + f[ground] + f[pin]; math.Abs(sum) > 1e-9 {
					t.Fatalf("the terminal currents leave %v A", sum)
				}
			})
		})
	}
}

func TestInsideStaysFinite(t *testing.T) {
	for name, of := range insideDevices {
		d := of(12)
		_, _, n := d.Size()
		for _, v := range []float64{-1e6, 0, 1e6} {
			for _, q := range []float64{-1e3, 0, 1e6} {
				p := d.Healthy(q)
				for k := range n {
					p[k] = q
				}
				f, jac, dfdp := evalInside(d, []float64{v, -v, 0, v, v}, p)
				for _, list := range [][]float64{f, jac, dfdp} {
					for _, y := range list {
						if math.IsNaN(y) || math.IsInf(y, 0) {
							t.Fatalf("%s: v %v p %v: %v", name, v, q, list)
						}
					}
				}
			}
		}
	}
}

// TestInsideIsDevice: awake and turning, it is Device with its supply at the
// output and its own way to the case; asleep it takes nothing but what its lamp
// terminal's resistance does.
func TestInsideIsDevice(t *testing.T) {
	x := []float64{14.2, 8, 0.1, 14, 2.5}
	y := []float64{14.2, 8, 0.1, 2.5}
	p := Inside{}.Healthy(0.6)
	f, _, _ := evalInside(Inside{}, x, p)
	g, _, _ := eval(Device{}, y, p[:Params])
	lamp := (x[pin] - x[ground]) / lampPull
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"supply", f[supply], g[supply]},
		{"field", f[field], g[field]},
		{"own equation", f[insideCurrent], g[current]},
		{"case", f[ground], g[ground] - lamp},
		{"lamp terminal", f[pin], lamp},
	} {
		near.Check(t, c.what, c.got, c.want, near.Tol{Abs: 1e-12}, "closed form: the stage of Device, its phase loud")
	}
	x[pin] = 0.1 // nothing on the lamp terminal
	f, _, _ = evalInside(Inside{}, x, p)
	near.Check(t, "asleep, conducts", f[ground]+f[pin], 0, near.Tol{Abs: 1e-12}, "closed form: duty 0, no own use")
}

// TestLampDriver: with the machine silent the driver holds the lamp at its drop,
// so the lamp has the rest; once a phase has 8 V it lets go.
func TestLampDriver(t *testing.T) {
	const lamp, feed = 60.0, 12.4
	lampVolts := func(phase, amps float64) float64 {
		p := Inside{}.Healthy(1)
		p[Phase] = phase
		lo, hi := 0.0, feed
		for range 60 {
			v := (lo + hi) / 2
			f, _, _ := evalInside(Inside{}, []float64{feed, 1, 0, v, amps}, p)
			if f[pin] < (feed-v)/lamp {
				lo = v
			} else {
				hi = v
			}
		}
		return lo
	}
	// (12.4 - 0.9)/(60 + 2) A through the driver's 2 ohm, and a softness of 0.02 V.
	near.Check(t, "no field", lampVolts(13, 0), lampDrop+2*(feed-lampDrop)/62, near.Tol{Abs: 0.01}, "closed form: divider of lamp and driver")
	near.Check(t, "charging", lampVolts(13, 2), feed*lampPull/(lampPull+lamp), near.Tol{Abs: 1e-6}, "closed form: divider of lamp and 10 kOhm")
	if v := lampVolts(0.01, 3); v > 1.5 {
		t.Errorf("standing with full field the lamp terminal is at %v V", v)
	}
}

// TestReport: over the resistance that the control unit feeds the line with, the
// line's mean volts are what the field's off-time is, to the 2 % that stays free.
func TestReport(t *testing.T) {
	for _, duty := range []float64{0, 0.3, 0.7, 1} {
		p := Commanded{}.Healthy(duty)
		f, _, _ := evalInside(Commanded{}, []float64{14, 5, 0, 1, 2}, p)
		g := f[pin] // at 1 V
		volts := 12 / (1 + reportPull*g)
		near.Check(t, "feedback line", volts/12, 1-duty, near.Tol{Abs: 0.021}, "closed form: mean of a line pulled down for the duty's share")
		p[Answers] = 0
		f, _, _ = evalInside(Commanded{}, []float64{14, 5, 0, 1, 2}, p)
		near.Check(t, "silent", f[pin], 0, near.Tol{Abs: 1e-15}, "closed form: no conductance")
	}
	p := Commanded{}.Healthy(1)
	p[Turning] = 0
	f, _, _ := evalInside(Commanded{}, []float64{12.5, 12.4, 0, 6, 0}, p)
	near.Check(t, "standing, taken", math.Abs(f[supply])+math.Abs(f[pin]), 0, near.Tol{Abs: 1e-12}, "closed form: asleep while the machine stands")
}

func TestInsideAllocatesNothing(t *testing.T) {
	x := []float64{14, 8, 0, 14, 2}
	p := Inside{}.Healthy(0.7)
	f, jac := make([]float64, insideSize), make([]float64, insideSize*insideSize)
	if n := testing.AllocsPerRun(100, func() { Inside{}.Stamp(x, p, f, jac) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
