package fit

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chargewright/internal/sample"
	"chargewright/system"
)

// TestWhateverAManualSays: figures anywhere that a figures file may have them, in
// any contradiction. A fit answers with finite numbers and a system file that is
// read, or with a reason.
func TestWhateverAManualSays(t *testing.T) {
	lib := template(t)
	sample.Checks(t, 40)
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		b.WriteString("format: 1\ntemplate: x\nid: wild\nname: wild\nmanual: wild\nbasis: invented\n")
		fmt.Fprintf(&b, "machine: {pole-pairs: %d, pulley-ratio: %.3g, page: \"1\"}\noutputs:\n", rapid.IntRange(1, 60).Draw(t, "poles"), rapid.Float64Range(0.5, 10).Draw(t, "pulley"))
		between := func(lo, hi float64, what string) float64 { // even on a logarithm
			return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, what))
		}
		windings := rapid.SampledFrom([]string{"cold", "hot", "-40 degC", "190 degC"})
		for range rapid.IntRange(1, 3).Draw(t, "outputs") {
			fmt.Fprintf(&b, "  - {amps: %.4g A, tolerance: %.3g %%, volts: %.3g V, alternator: %.5g rpm, windings: %s, page: \"1\"}\n",
				between(0.6, 900, "amps"), between(0.01, 50, "tolerance"), between(9.1, 16, "volts"), between(510, 29000, "rpm"), windings.Draw(t, "warm"))
		}
		if rapid.Bool().Draw(t, "cut-in") {
			fmt.Fprintf(&b, "cut-in:\n  - {engine: {%s: %.4g rpm}, volts: 13 V, windings: hot, page: \"1\"}\n", rapid.SampledFrom([]string{"low", "high"}).Draw(t, "end"), between(210, 8900, "cut-in rpm"))
		}
		if rapid.Bool().Draw(t, "field") {
			fmt.Fprintf(&b, "field-current:\n  - {amps: %.3g A, tolerance: 5 %%, volts: %.3g V, temperature: 20 degC, page: \"1\"}\n", between(0.06, 45, "field amps"), between(1.1, 58, "field volts"))
		}
		if rapid.Bool().Draw(t, "ohms") {
			fmt.Fprintf(&b, "rotor:\n  - {ohms: %.3g Ohm, tolerance: 1 %%, temperature: 20 degC, page: \"1\"}\nstator:\n  - {ohms: %.3g Ohm, tolerance: 1 %%, temperature: 20 degC, page: \"1\"}\n", between(0.06, 450, "rotor"), between(1.1e-3, 4.9, "stator"))
		}
		if rapid.Bool().Draw(t, "regulated") {
			fmt.Fprintf(&b, "regulated:\n  - {volts: %.4g V, tolerance: 1 %%, temperature: %.3g degC, at: battery, page: \"1\"}\n", between(12.1, 16.7, "regulated"), rapid.Float64Range(-44, 150).Draw(t, "celsius"))
		}
		if rapid.Bool().Draw(t, "battery") {
			fmt.Fprintf(&b, "battery: {capacity: %.3g Ah, page: \"1\", cold-cranking: {amps: %.4g A, tolerance: 5 %%, standard: en, page: \"1\"}}\n", between(5.1, 490, "Ah"), between(21, 2900, "cranking"))
		}
		x, err := Parse("wild.yaml", []byte(b.String()), func(string) (*system.System, error) { return lib, nil })
		if err != nil {
			t.Fatalf("not read: %v\n%s", err, b.String())
		}
		r, err := fitOnly(x)
		whole := rapid.IntRange(0, 9).Draw(t, "whole") == 0 // with circuit and file: slow, one in ten
		if whole {
			r, err = Run(x, Options{Seed: 1, Starts: 2})
		}
		if err != nil {
			t.Logf("no answer: %v", err)
			return
		}
		for _, f := range r.Fitted {
			if bad(f.Predicted, f.Misfit, f.Spread, f.InFile) {
				t.Fatalf("%s: %+v", f.ID, f)
			}
		}
		for _, u := range r.Unknowns {
			if bad(u.Fitted.Low, u.Fitted.Median, u.Fitted.High, u.Removed) || u.Fitted.Low > u.Fitted.High {
				t.Fatalf("%+v", u)
			}
		}
		if !whole {
			return
		}
		if _, err := system.Parse("wild.yaml", r.System); err != nil {
			t.Fatalf("the file is no system: %v\n%s", err, b.String())
		}
	})
}

// fitOnly is a fit without the vehicle's circuit.
func fitOnly(x *Figures) (*Result, error) {
	s, err := newSolver(x)
	if err != nil {
		return nil, err
	}
	got, err := s.all(1, 1)
	if err != nil {
		return nil, err
	}
	r := &Result{Figures: x}
	s.report(r, got.best)
	r.Conflicts, err = s.conflicts(got.best)
	return r, err
}

func bad(list ...float64) bool {
	for _, v := range list {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return true
		}
	}
	return false
}
