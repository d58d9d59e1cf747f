package battery

import (
	"math"
	"testing"

	"chargewright/internal/near"
	"chargewright/unit"
)

// faq is the state-of-charge table of a circulated battery FAQ (read).
var faq = []struct{ soc, sg, volts, rule float64 }{
	{1, 1.265, 12.65, 12.66}, {0.75, 1.225, 12.45, 12.42}, {0.5, 1.190, 12.24, 12.21}, {0.25, 1.155, 12.06, 12.00}, {0, 1.120, 11.89, 11.79},
}

func TestChargeAndDensity(t *testing.T) {
	m, _ := New(55, 6)
	for _, r := range faq {
		sg, err := DensityFromSoC(r.soc)
		if err != nil {
			t.Fatal(err)
		}
		near.Check(t, "density", sg, r.sg, near.Tol{Abs: 1e-12}, "table: battery FAQ, state of charge against specific gravity (read)")
		soc, err := SoCFromDensity(r.sg)
		if err != nil {
			t.Fatal(err)
		}
		near.Check(t, "charge", soc, r.soc, near.Tol{Abs: 1e-12}, "table: battery FAQ (read)")
		v, err := m.OpenCircuitVolts(r.soc)
		if err != nil {
			t.Fatal(err)
		}
		// The polynomials are one electrode's each; the FAQ rounds to what a
		// voltmeter of 0.5 % shows, 0.06 V.
		near.Check(t, "volts", v, r.volts, near.Tol{Abs: 0.02}, "table: battery FAQ, open circuit, rested (read)")
		// The rule is a straight line through a curve.
		near.Check(t, "volts against the rule", v, r.rule, near.Tol{Abs: 0.10}, "table: DOE-HDBK-1084-95 eq. (6): density + 0.845 V a cell (read)")
	}
	last, lastV := 0.0, 0.0
	for s := 0.0; s <= 1; s += 1.0 / 512 {
		sg, _ := DensityFromSoC(s)
		v, _ := m.OpenCircuitVolts(s)
		if sg <= last || v <= lastV {
			t.Fatalf("density or volts do not rise at %v", s)
		}
		last, lastV = sg, v
		back, err := SoCFromDensity(sg)
		if err != nil || math.Abs(back-s) > 1e-12 {
			t.Fatalf("%v comes back as %v, %v", s, back, err)
		}
	}
	for _, s := range []float64{-0.01, 1.01, math.NaN()} {
		if _, err := DensityFromSoC(s); err == nil {
			t.Errorf("a charge of %v was taken", s)
		}
		if _, err := m.OpenCircuitVolts(s); err == nil {
			t.Errorf("a charge of %v was taken", s)
		}
	}
	for _, sg := range []float64{1.28, 1.1, math.NaN()} {
		if _, err := SoCFromDensity(sg); err == nil {
			t.Errorf("a density of %v was taken", sg)
		}
	}
}

func TestCorrectDensity(t *testing.T) {
	const (
		manual  = "table: marine generating-set manual, hydrometer example (read)"
		rule    = "table: technician study guide, 0.004 for 10 degF from 80 degF (read)"
		tableIV = "table: US Army TM 5-1185 Table IV (read; column temperatures inferred but for 80 degF)"
	)
	cases := []struct {
		reading, f, want, tol float64
		source                string
	}{
		{1.250, 20, 1.226, 1e-9, manual},
		{1.235, 100, 1.243, 1e-9, manual},
		{1.200, -20, 1.160, 1e-9, rule},
		{1.200, 0, 1.168, 1e-9, rule},
		{1.200, 50, 1.188, 1e-9, rule},
		{1.200, 80, 1.200, 1e-9, rule},
		{1.200, 130, 1.220, 1e-9, rule},
		// The table is printed to 0.001 and departs from the rule by as much.
		{1.277, -65, 1.220, 0.00101, tableIV},
		{1.259, -20, 1.220, 0.00101, tableIV},
		{1.251, 0, 1.220, 0.00101, tableIV},
		{1.236, 40, 1.220, 0.00101, tableIV},
		{1.213, 100, 1.220, 0.00101, tableIV},
		{1.205, 120, 1.220, 0.00101, tableIV},
		{1.297, -65, 1.240, 0.00101, tableIV},
		{1.256, 40, 1.240, 0.00101, tableIV},
		{1.272, 100, 1.280, 0.00101, tableIV},
		{1.268, 110, 1.280, 0.00101, tableIV},
	}
	for _, c := range cases {
		got, err := CorrectDensity(c.reading, unit.FromFahrenheit(c.f))
		if err != nil {
			t.Errorf("%v at %v degF: %v", c.reading, c.f, err)
		}
		near.Check(t, "corrected", got, c.want, near.Tol{Abs: c.tol}, c.source)
	}
	for _, c := range [][2]float64{{0.9, 300}, {1.2, 200}, {1.2, 400}, {math.NaN(), 300}, {1.2, math.NaN()}} {
		if _, err := CorrectDensity(c[0], c[1]); err == nil {
			t.Errorf("%v was taken", c)
		}
	}
}

func TestFreezing(t *testing.T) {
	const army = "table: US Army subcourse OD1002 Lesson 2 p.54 (read)"
	for _, r := range []struct {
		sg, f, tol float64
		source     string
	}{
		{1.000, 32, 1e-9, army},
		{1.100, 19, 1e-9, army},
		{1.150, 5, 1e-9, army},
		{1.200, -16, 1e-9, army},
		{1.250, -62, 1e-9, army},
		{1.280, -90, 1e-9, army},
		// Other tables differ by some degrees where ours goes straight.
		{1.160, 1, 4, "table: US Army TM 10-6140-200-14 Table 1-1 (read)"},
		{1.220, -31, 4, "table: US Army TM 10-6140-200-14 Table 1-1 (read)"},
		{1.280, -95, 5.1, "table: US Army TM 10-6140-200-14 Table 1-1 (read)"},
		{1.265, -75, 5, "memory"},
		{1.225, -35, 5, "memory"},
		{1.190, -15, 5, "memory"},
		{1.155, 5, 5, "memory"},
	} {
		k, err := FreezingPoint(r.sg)
		if err != nil {
			t.Fatal(err)
		}
		near.Check(t, "freezing", unit.Fahrenheit(k), r.f, near.Tol{Abs: r.tol}, r.source)
	}
	for _, sg := range []float64{0.99, 1.29, math.NaN()} {
		if _, err := FreezingPoint(sg); err == nil {
			t.Errorf("%v was taken", sg)
		}
	}
}

func TestLoadTestVolts(t *testing.T) {
	const (
		guide = "table: technician study guide, battery capacity test: 9.6 V at 70 degF (read)"
		rule  = "table: battery FAQ, 9.7 V at 80 degF and 0.1 V for 10 degF (read)"
	)
	twelve, _ := New(50, 6)
	for _, r := range []struct {
		f, v          float64
		source, basis string
	}{
		{70, 9.6, guide, "read"},
		{100, 9.6, guide, "read"},
		{60, 9.5, rule, "read"},
		{50, 9.4, rule, "read"},
		{40, 9.3, rule, "read"},
		{30, 9.1, "memory", "memory"},
		{20, 8.9, "memory", "memory"},
		{10, 8.7, "memory", "memory"},
		{0, 8.5, "memory", "memory"},
	} {
		v, basis, err := twelve.MinLoadTestVolts(unit.FromFahrenheit(r.f))
		if err != nil || basis != r.basis {
			t.Errorf("%v degF: basis %q, %v", r.f, basis, err)
		}
		near.Check(t, "volts", v, r.v, near.Tol{Abs: 1e-9}, r.source)
	}
	for _, k := range []float64{250, 330, math.NaN()} {
		if _, _, err := twelve.MinLoadTestVolts(k); err == nil {
			t.Errorf("%v K was taken", k)
		}
	}
	double, _ := New(50, 12)
	v, _, _ := double.MinLoadTestVolts(unit.FromFahrenheit(70))
	near.Check(t, "24 V", v, 19.2, near.Tol{Abs: 1e-9}, "closed form: twice six cells")
}
