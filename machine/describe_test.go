package machine

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"chargewright/internal/badfile"
	"chargewright/internal/schemas/schematest"
)

const example = "../examples/machines/demo-55.yaml"

func TestBadDescriptions(t *testing.T) {
	badfile.Run(t, "testdata/bad", func(file string, data []byte) error {
		d, err := ParseDescription(file, data)
		if (d == nil) == (err == nil) {
			t.Error("a machine and a problem, or neither")
		}
		return err
	})
}

// goodFiles are the machine files that must read.
func goodFiles(t testing.TB) map[string][]byte {
	t.Helper()
	names, err := filepath.Glob("testdata/good/*.yaml")
	if err != nil || len(names) == 0 {
		t.Fatalf("no machine files (%v)", err)
	}
	shipped, err := filepath.Glob("../examples/machines/*.yaml")
	if err != nil || len(shipped) == 0 {
		t.Fatalf("no examples (%v)", err)
	}
	out := map[string][]byte{}
	for _, name := range append(names, shipped...) {
		if out[name], err = os.ReadFile(name); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

func TestGoodDescriptionsAndSchema(t *testing.T) {
	s, err := schematest.Compile("machine")
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range goodFiles(t) {
		if _, err := ParseDescription(name, data); err != nil {
			t.Error(err)
		}
		if err := schematest.Validate(s, data); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		schematest.Agree(t, "machine", data, func(data []byte) error {
			_, err := ParseDescription(name, data)
			return err
		}, false)
	}
}

func FuzzParseDescription(f *testing.F) {
	for _, data := range goodFiles(f) {
		f.Add(data)
	}
	bad, err := filepath.Glob("testdata/bad/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range bad {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := ParseDescription("f", data)
		if (d == nil) == (err == nil) {
			t.Fatal("a machine and a problem, or neither")
		}
		if err != nil {
			if err.Error() == "" {
				t.Error("a refusal without words")
			}
			return
		}
		for _, field := range []float64{0, 1e-3, 1, 3} {
			e, err := d.EMF(field, 1000)
			if err == nil && (math.IsNaN(e) || e < 0) {
				t.Errorf("EMF %v at %v A", e, field)
			}
			l, err := d.Inductance(field)
			if err == nil && !(l > 0) {
				t.Errorf("inductance %v at %v A", l, field)
			}
		}
	})
}

func demo(t *testing.T) *Description {
	t.Helper()
	data, err := os.ReadFile(example)
	if err != nil {
		t.Fatal(err)
	}
	d, err := ParseDescription(example, data)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Measured points are met, and between them the curve rises all the way.
// closed form: that is what a monotone interpolation is.
func TestMeasuredPointsAreMet(t *testing.T) {
	d := measuredDelta(t)
	omega := 2000.0 / 60 * 2 * math.Pi * float64(d.Poles) / 2
	for field, line := range map[float64]float64{0: 0, 0.995: 9.733, 2.493: 18.93, 5: 22.4} {
		e, err := d.EMF(field, omega)
		if err != nil || math.Abs(e-line*math.Sqrt2) > 1e-9 {
			t.Errorf("%v A: %v V peak, measured %v (%v)", field, e, line*math.Sqrt2, err)
		}
	}
	last := -1.0
	for field := 0.0; field <= 5; field += 0.01 {
		e, err := d.EMF(field, omega)
		if err != nil || e < last {
			t.Fatalf("%v A: %v V after %v (%v)", field, e, last, err)
		}
		last = e
	}
	if _, err := d.EMF(5.1, omega); err == nil || !Refused(err) {
		t.Errorf("beyond the points: %v", err)
	}
}

// The ways of telling an open-circuit voltage agree. closed form: rms and peak of
// a sum of harmonics; a star's lines hold sqrt(3) of a winding and no third.
func TestWaysOfMeasuringAgree(t *testing.T) {
	file := func(winding, how string, volts float64) string {
		return strings.NewReplacer("WINDING", winding, "HOW", how, "VOLTS", trimmed(volts)).Replace(`
format: 1
id: m
name: m
source: invented
poles: 12
winding: WINDING
stator-ohms: 0.1 Ohm
inductance: 200 uH
emf: {speed: 1000 rpm, volts: HOW, third: 0.2, fifth: 0.1, points: [[0 A, 0 V], [2 A, VOLTS V]]}
diode: {saturation: 5e-9 A, emission: 1.5, ohms: 5 mOhm}
`)
	}
	const peak = 10.0
	for _, c := range []struct {
		winding, how string
		volts        float64
	}{
		{"star", "winding-peak", peak},
		{"star", "winding-rms", peak / math.Sqrt2 * math.Sqrt(1+0.04+0.01)},
		{"star", "line-rms", peak / math.Sqrt2 * math.Sqrt(3) * math.Sqrt(1+0.01)},
		{"delta", "line-rms", peak / math.Sqrt2 * math.Sqrt(1+0.01)},
		{"delta", "winding-rms", peak / math.Sqrt2 * math.Sqrt(1+0.01)},
	} {
		d, err := ParseDescription("m", []byte(file(c.winding, c.how, c.volts)))
		if err != nil {
			t.Fatal(err)
		}
		e, err := d.EMF(2, 1000.0/60*2*math.Pi*6)
		if err != nil || math.Abs(e-peak) > 1e-6 {
			t.Errorf("%s %s: peak %v, closed form %v (%v)", c.winding, c.how, e, peak, err)
		}
	}
}

func trimmed(v float64) string { return strconv.FormatFloat(v, 'f', 12, 64) }

// Full field is a fixed point: the field current is what D+ (or the output) drives
// through rotor and brushes. closed form: Ohm's law.
func TestFullField(t *testing.T) {
	d := demo(t)
	speed := 3000.0 / 60 * 2 * math.Pi
	side := Side{EMF: 12.6, Ohms: 0.01, LoadOhms: 0.5}
	for _, nine := range []bool{true, false} {
		if !nine {
			d.FieldDiode = nil
		}
		a, err := d.Run(Condition{Speed: speed, Side: side})
		if err != nil {
			t.Fatal(err)
		}
		if want := (a.feed() - d.BrushVolts) / d.RotorOhms; math.Abs(a.Field-want) > 2e-3*want {
			t.Errorf("%s: field %.4f A, Ohm's law %.4f", a.FedBy, a.Field, want)
		}
		drawn := a.Battery + a.Load
		if !nine {
			drawn += a.Field
		}
		if v := a.StudVolts.Mean; math.Abs(drawn-a.Stud.Mean) > 1e-9 || math.Abs(v-(12.6+0.01*a.Battery)) > 2e-3 {
			t.Errorf("%s: %.4f A out, %.4f A drawn; %.4f V at %.3f A into the battery", a.FedBy, a.Stud.Mean, drawn, v, a.Battery)
		}
	}
	d.RotorOhms = 0
	if _, err := d.Run(Condition{Speed: speed, Side: side}); !errors.Is(err, ErrNoField) {
		t.Errorf("no rotor, no field: %v", err)
	}
}

// A current that is held is refused where nothing gives it, instead of taking output or
// D+ below the case; where it is given, it is held.
func TestNothingGivesThat(t *testing.T) {
	d := demo(t)
	speed := 6000.0 / 60 * 2 * math.Pi
	side := Side{EMF: 12.6, Ohms: 0.01}
	field := 300.0
	if _, err := d.Run(Condition{Speed: speed, Side: side, Field: &field}); err == nil || !Refused(err) {
		t.Errorf("a field current of 300 A from D+: %v", err)
	}
	field = 2.5
	if a, err := d.Run(Condition{Speed: speed, Side: side, Field: &field}); err != nil || a.Field != 2.5 {
		t.Errorf("a field current of 2.5 A: %v", err)
	}
	side.LoadAmps = 5000
	if _, err := d.Run(Condition{Speed: speed, Side: side}); err == nil || !Refused(err) {
		t.Errorf("a load of 5000 A: %v", err)
	}
	side.LoadAmps = 200 // the battery gives most of it
	if a, err := d.Run(Condition{Speed: speed, Side: side}); err != nil || a.Load != 200 {
		t.Errorf("a load of 200 A: %v", err)
	}
}

// At a crawl the machine does not feed itself; standing still it draws nothing;
// with a positive diode shorted it warms its rotor off the battery.
// common practice: 2 A to 4 A, D+ about a volt below the battery.
func TestDemoStandsAndCrawls(t *testing.T) {
	d := demo(t)
	side := Side{EMF: 12.6, Ohms: 0.01}
	for _, rpm := range []float64{0, 300} {
		a, err := d.Run(Condition{Speed: rpm / 60 * 2 * math.Pi, Side: side})
		if err != nil {
			t.Fatal(err)
		}
		if a.Field > 0.01 || math.Abs(a.Stud.Mean) > 1e-3 {
			t.Errorf("%v rpm: field %.4f A, %.5f A out", rpm, a.Field, a.Stud.Mean)
		}
	}
	var c Changes
	if err := c.Apply("diode-b+=short"); err != nil {
		t.Fatal(err)
	}
	a, err := d.Run(Condition{Side: side, Changes: c})
	if err != nil {
		t.Fatal(err)
	}
	if a.Field < 2 || a.Field > 4 || math.Abs(a.Field+a.Stud.Mean) > 1e-3 || a.DPlusVolts.Mean < 11 || a.DPlusVolts.Mean > 12 {
		t.Errorf("shorted diode, standing: field %.3f A, D+ %.2f V, %.3f A out", a.Field, a.DPlusVolts.Mean, a.Stud.Mean)
	}
}
