package unit

import (
	"testing"

	"chargewright/internal/near"
)

const (
	// ohmsOfIACS is the resistivity of annealed copper at 20 degC [ohm m].
	// Source: the IACS of IEC 60028, as digested in articles (read).
	ohmsOfIACS = 1.7241e-8
	foot       = 0.3048
)

func TestGauges(t *testing.T) {
	cases := []struct {
		awg          string
		mm2, ohmPerK float64 // [mm2], [ohm per 1000 ft] at 20 degC, solid
	}{
		{"4/0", 107.2193, 0.04901},
		{"2/0", 67.4309, 0.07793},
		{"1/0", 53.4751, 0.09827},
		{"2", 33.6308, 0.1563},
		{"4", 21.1506, 0.2485},
		{"6", 13.3018, 0.3951},
		{"8", 8.3656, 0.6282},
		{"10", 5.2612, 0.9989},
		{"12", 3.3088, 1.588},
		{"14", 2.0809, 2.525},
		{"16", 1.3087, 4.016},
		{"18", 0.8230, 6.385},
		{"20", 0.5176, 10.15},
		{"24", 0.2047, 25.67},
	}
	for _, c := range cases {
		for _, s := range []string{"AWG " + c.awg, c.awg + " AWG", c.awg + "awg"} {
			area, err := Parse(SquareMetre, s)
			if err != nil {
				t.Errorf("%s: %v", s, err)
				continue
			}
			// Half of the last printed figure.
			near.Check(t, s, area*1e6, c.mm2, near.Tol{Abs: 0.51e-4}, "closed form: pi/4 (0.127 mm x 92^((36-n)/39))^2, worked to four decimals")
			// Four printed figures: half a unit of the fourth is 0.05 % at
			// most; the table's resistivity may differ in its fifth figure.
			near.Check(t, s+" resistance", 1000*foot*ohmsOfIACS/area, c.ohmPerK, near.Tol{Rel: 6e-4},
				"table: copper wire table in general circulation (physics course page citing Floyd), ohm per 1000 ft at 20 degC (read)")
		}
	}
	a, _ := Parse(SquareMetre, "0000 AWG")
	b, _ := AWGArea(-3)
	if a != b {
		t.Error("0000 is not 4/0")
	}
}

// Worked drops V = R L I with every input read as text. Two published outputs
// do not follow from their own inputs; the test holds that we do not repeat
// them.
func TestWorkedDrops(t *testing.T) {
	const source = "table: FAA AC 43.13-1B Chg 1 Table 11-7 and 11-8 (read), recomputed from the row's own inputs"
	cases := []struct {
		length, amps   string
		ohmPerFoot     float64
		want, rounding float64
		published      float64
		misprint       bool
	}{
		{"107 ft", "20 A", 0.00044, 0.942, 0.0005, 0.942, false},
		{"90 ft", "20 A", 0.00028, 0.504, 0.0005, 0.504, false},
		{"88 ft", "20 A", 0.00202, 3.555, 0.0005, 3.60, true},
		{"100 ft", "20 A", 0.00306, 6.120, 0.0005, 6.12, false},
		{"39 ft", "20 A", 0.00126, 0.983, 0.0005, 0.98, false},
		{"19.5 ft", "20 A", 0.00126, 0.491, 0.0005, 0.366, true},
		{"156 ft", "20 A", 0.00126, 3.931, 0.0005, 3.93, false},
		{"273 ft", "20 A", 0.00126, 6.880, 0.0005, 6.88, false},
	}
	for _, c := range cases {
		l, err := Parse(Metre, c.length)
		if err != nil {
			t.Fatal(err)
		}
		i, err := Parse(Amp, c.amps)
		if err != nil {
			t.Fatal(err)
		}
		got := l * (c.ohmPerFoot / foot) * i
		near.Check(t, c.length, got, c.want, near.Tol{Abs: c.rounding}, source)
		if agrees := (near.Tol{Abs: 0.0051}).Within(got, c.published); agrees == c.misprint {
			t.Errorf("%s: %.3f V against the printed %.3f V, misprint %v", c.length, got, c.published, c.misprint)
		}
	}
	l, _ := Parse(Metre, "200 ft") // there and back
	near.Check(t, "two-wire circuit", l*(4.99/1000/foot)*4, 3.992, near.Tol{Abs: 0.0005},
		"table: electrician training text with NEC Chapter 9 Table 8's 4.99 ohm/kft (read): 100 ft, 4 A, 4.0 V")
}
