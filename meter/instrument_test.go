package meter

import (
	"errors"
	"math"
	"testing"

	"chargewright/internal/near"
)

// rounding is for arithmetic on a few numbers: only the last bits may differ.
var rounding = near.Tol{Rel: 1e-12}

// The published examples print limits of error; the range figures are theirs.
func TestLimitsOfError(t *testing.T) {
	const app = "table: meter application page, worked accuracy example (read)"
	cases := []struct {
		name    string
		r       Range
		x, want float64
		source  string
	}{
		{"2 V, 0.5 % + 3", Range{Full: 4, Resolution: 0.001, Percent: 0.5, Counts: 3}, 2, 0.013, app},
		{"120 V, 1 % + 3", Range{Full: 400, Resolution: 0.1, Percent: 1, Counts: 3}, 120, 1.5, app},
		{"100.0 V, 2 % + 2", Range{Full: 400, Resolution: 0.1, Percent: 2, Counts: 2}, 100, 2.2, app},
		{"2.000 V, 0.08 % + 2", Range{Full: 4, Resolution: 0.001, Percent: 0.08, Counts: 2}, 2, 0.0036, app},
		{"3 % of a 100 V scale at 90 V", Range{Full: 100, Resolution: 1, PercentFS: 3}, 90, 3, "table: measurement article, analogue meter (read)"},
		{"3 % of a 100 V scale at 10 V", Range{Full: 100, Resolution: 1, PercentFS: 3}, 10, 3, "table: measurement article, analogue meter (read)"},
		{"class 0.2 on 1 A", Range{Full: 1, Resolution: 0.01, PercentFS: 0.2}, 0.5, 0.002, "table: class-index page, 100 divisions on 1 A (read)"},
	}
	for _, c := range cases {
		near.Check(t, c.name, c.r.Limit(c.x), c.want, rounding, c.source)
		near.Check(t, c.name+", reversed leads", c.r.Limit(-c.x), c.want, rounding, c.source)
	}
	near.Check(t, "share at 10 V", 100*cases[5].r.Limit(10)/10, 30, rounding, "table: measurement article: 3 V of 10 V is 30 % (read)")
	near.Check(t, "share at 90 V", 100*cases[4].r.Limit(90)/90, 3.3, near.Tol{Abs: 0.05}, "table: measurement article: 3 V of 90 V is 3.3 %, two figures printed (read)")
}

func TestStandard(t *testing.T) {
	r := Range{Full: 10, Resolution: 1e-9, PercentFS: 15}
	near.Check(t, "limits 7 to 10", r.Standard(8.5), 0.87, near.Tol{Abs: 0.005}, "table: EURACHEM guide appendix E: a = 1.5 gives 0.87, two figures printed (read)")
	r = Range{Full: 10, Resolution: 0.1, HookUp: 0.4, Counts: 3}
	near.Check(t, "all three", r.Standard(2), math.Sqrt(0.09/3+0.01/12+0.16), rounding, "closed form: a^2/3 + q^2/12 + h^2")
}

func TestSmallestRange(t *testing.T) {
	in, ok := Find("dmm")
	if !ok {
		t.Fatal("no dmm")
	}
	for _, c := range []struct{ x, full float64 }{{0.29, 0.6}, {-0.29, 0.6}, {0.6, 0.6}, {0.601, 6}, {14.2, 60}, {0, 0.6}} {
		u, res, full, err := in.Standard("volts", c.x)
		if err != nil || full != c.full {
			t.Errorf("%v V: range %v, %v", c.x, full, err)
		}
		if !(u > res/math.Sqrt(12)) {
			t.Errorf("%v V: u %v is below the resolution's part", c.x, u)
		}
	}
	// 14.2 V on the 60 V range: a = 0.5 % x 14.2 + 2 x 0.01 = 0.091 V.
	u, _, _, _ := in.Standard("volts", 14.2)
	near.Check(t, "14.2 V", u, math.Sqrt(0.091*0.091/3+0.01*0.01/12+0.0005*0.0005), rounding, "closed form: a^2/3 + q^2/12 + h^2")

	var over *OverRange
	if _, _, _, err := in.Standard("volts", 700); !errors.As(err, &over) || over.Full != 600 {
		t.Errorf("700 V: %v", err)
	}
	if _, _, _, err := in.Standard("amps", 1); err == nil || errors.As(err, &over) {
		t.Errorf("amps: %v", err)
	}
	if _, _, _, err := in.Standard("volts", math.NaN()); err == nil {
		t.Error("NaN was taken")
	}
}

func TestCatalogueIsComplete(t *testing.T) {
	seen := map[string]bool{}
	for _, in := range Catalogue() {
		if p := in.Problems(); p != nil {
			t.Errorf("%s: %v", in.ID, p)
		}
		if seen[in.ID] || in.Name == "" || in.Source == "" || in.Basis == "" {
			t.Errorf("%s: twice, or without name, source or basis", in.ID)
		}
		seen[in.ID] = true
		for _, r := range in.Ranges {
			if u, _, full, err := in.Standard(r.Kind, r.Full); err != nil || full != r.Full || !(u > 0) {
				t.Errorf("%s %s %v: u %v, full %v, %v", in.ID, r.Kind, r.Full, u, full, err)
			}
		}
	}
	for _, id := range []string{"dmm", "dc-clamp", "ma-clamp", "shunt-ammeter", "field-ammeter", "hydrometer", "milliohm-meter", "tachometer"} {
		if !seen[id] {
			t.Errorf("no %s", id)
		}
	}
	clamp, _ := Find("dc-clamp")
	near.Check(t, "clamp at 30 A", clamp.Ranges[0].Limit(30), 0.9, rounding, "common practice")
	if in, _ := Find("shunt-ammeter"); in.SeriesOhms != 0.010 {
		t.Error("the shunt is not 10 mohm")
	}
	if _, ok := Find("none"); ok {
		t.Error("found an instrument that is not there")
	}
	bad := Instrument{Ranges: []Range{{Full: 1, Resolution: 2, Percent: math.NaN()}}}
	if p := bad.Problems(); len(p) != 4 { // id, accuracy figure, resolution, kind
		t.Errorf("problems: %q", p)
	}
}
