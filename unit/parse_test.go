package unit

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chargewright/internal/near"
)

// exactly is for conversions by defined factors: only rounding of a few
// operations remains.
var exactly = near.Tol{Rel: 1e-14, Abs: 1e-18}

func TestParse(t *testing.T) {
	cases := []struct {
		dim  Dim
		s    string
		want float64
	}{
		{Volt, "14.2 V", 14.2},
		{Volt, "420 mV", 0.42},
		{Volt, "0.42V", 0.42},
		{Volt, "-3 mV", -0.003},
		{Volt, "−3 mV", -0.003},
		{Volt, "12,650 V", 12.65},
		{Volt, " 14.2  volts ", 14.2},
		{Volt, "+.5 V", 0.5},
		{Volt, "5. V", 5},
		{Volt, "1e-3 V", 1e-3},
		{Volt, "14.2 v", 14.2},
		{Volt, "3 mv", 0.003},
		{Volt, "40 µV", 40e-6},
		{Amp, "2,5 A", 2.5},
		{Amp, "12 mA", 0.012},
		{Amp, "0 A", 0},
		{Ohm, "1.9 ohm", 1.9},
		{Ohm, "1.9 Ohm", 1.9},
		{Ohm, "1.9 Ω", 1.9},
		{Ohm, "1.9 \u2126", 1.9},
		{Ohm, "5 mΩ", 0.005},
		{Ohm, "5 mOhm", 0.005},
		{Ohm, "10 kOhm", 1e4},
		{Ohm, "10 Kohm", 1e4},
		{Ohm, "10 MOhm", 1e7},
		{Ohm, "1 MΩ", 1e6},
		{Farad, "2.2 uF", 2.2e-6},
		{Farad, "2.2 µF", 2.2e-6},
		{Farad, "2.2 μF", 2.2e-6},
		{Henry, "275 uH", 275e-6},
		{Henry, "0.2 H", 0.2},
		{Kelvin, "20 degC", 293.15},
		{Kelvin, "20°C", 293.15},
		{Kelvin, "68 °F", 293.15},
		{Kelvin, "68 F", 293.15},
		{Kelvin, "293 K", 293},
		{Kelvin, "-18 C", 255.15},
		{KelvinDiff, "5 K", 5},
		{AngularSpeed, "1250 rpm", 1250 * 2 * math.Pi / 60},
		{AngularSpeed, "1250 1/min", 1250 * 2 * math.Pi / 60},
		{AngularSpeed, "1250 RPM", 1250 * 2 * math.Pi / 60},
		{AngularSpeed, "10 rad/s", 10},
		{SquareMetre, "16 mm2", 16e-6},
		{SquareMetre, "16 mm²", 16e-6},
		{SquareMetre, "0.16 cm2", 16e-6},
		{Metre, "1.5 m", 1.5},
		{Metre, "150 cm", 1.5},
		{Metre, "5 ft", 1.524},
		{Metre, "12 mm", 0.012},
		{Metre, "10 in", 0.254},
		{Second, "2 min", 120},
		{Second, "8 h", 28800},
		{Second, "15 s", 15},
		{Second, "40 ms", 0.04},
		{AmpHour, "55 Ah", 198000},
		{One, "1.225", 1.225},
		{One, "1,225", 1.225},
		{One, "20 %", 0.2},
		{VoltPerKelvin, "-10 mV/K", -0.01},
		{VoltSecond, "0.0130 V s/rad", 0.013},
		{PerKelvin, "0.00393 1/K", 0.00393},
		{Watt, "2.2 W", 2.2},
		{Hertz, "1.725 kHz", 1725},
		{NewtonMetre, "4 N m", 4},
	}
	for _, c := range cases {
		got, err := Parse(c.dim, c.s)
		if err != nil {
			t.Errorf("%v %q: %v", c.dim, c.s, err)
			continue
		}
		near.Check(t, c.s, got, c.want, exactly, "closed form: metric prefixes; ft, in, degF, rpm, Ah by definition")
	}
}

func TestParseRefuses(t *testing.T) {
	cases := []struct {
		dim     Dim
		s, hint string
	}{
		{Volt, "14.2", "14.2 V"},
		{Kelvin, "20", "20 degC"},
		{Volt, "14.2 A", "14.2 V"},
		{Volt, "", "14.2 V"},
		{Volt, "V", "14.2 V"},
		{Volt, "NaN V", "14.2 V"},
		{Volt, "Inf V", "14.2 V"},
		{Volt, "1e999 V", "14.2 V"},
		{Ohm, "1e305 MOhm", "1.9 ohm"},
		{Volt, "1.2.3 V", "14.2 V"},
		{Volt, "1 250 V", "14.2 V"},
		{Volt, "0x10 V", "14.2 V"},
		{Volt, "1_000 V", "14.2 V"},
		{Volt, "--1 V", "14.2 V"},
		{AngularSpeed, "1,250 rpm", "1250 rpm or 1.250 rpm"},
		{Volt, "1,250 mV", "1250 mV or 1.250 mV"},
		{Volt, "1,250,000 V", "14.2 V"},
		{Volt, "3 MV", "14.2 V"},
		{Ohm, "3 MOHM", "1.9 ohm"},
		{Second, "3 S", "2 min"},
		{Volt, "3 furlong", "14.2 V"},
		{Kelvin, "-300 degC", "20 degC"},
		{KelvinDiff, "5 degC", "5 K"},
		{One, "5 V", "5"},
		{Volt, "10 AWG", "14.2 V"},
		{SquareMetre, "99 AWG", "mm2"},
		{SquareMetre, "5/0 AWG", "mm2"},
		{SquareMetre, "AWG", "mm2"},
		{SquareMetre, "AWG x", "mm2"},
		{Volt, "14.2 V or so", "14.2 V"},
		{Volt, "12.6 \xff", "14.2 V"},
		{Volt, strings.Repeat("1", 100) + " V", "14.2 V"},
	}
	for _, c := range cases {
		v, err := Parse(c.dim, c.s)
		var r *Refusal
		if !errors.As(err, &r) {
			t.Errorf("%v %q was taken as %v", c.dim, c.s, v)
			continue
		}
		if !strings.Contains(r.Instead, c.hint) || r.What == "" {
			t.Errorf("%v %q: the hint %q does not hold %q", c.dim, c.s, r.Instead, c.hint)
		}
	}
}

func TestParseAny(t *testing.T) {
	cases := []struct {
		s    string
		want float64
		dim  Dim
	}{
		{"14.2 V", 14.2, Volt},
		{"293 K", 293, Kelvin},
		{"20 C", 293.15, Kelvin},
		{"1.225", 1.225, One},
		{"1 mm2", 1e-6, SquareMetre},
		{"2 min", 120, Second},
		{"10 AWG", 0, SquareMetre},
		{"5 mH", 0.005, Henry},
		{"5 h", 18000, Second},
		{"3.2 \u03a9", 3.2, Ohm}, // Greek letter
		{"3.2 \u2126", 3.2, Ohm}, // ohm sign
	}
	for _, c := range cases {
		got, dim, err := ParseAny(c.s)
		if err != nil || dim != c.dim {
			t.Errorf("%q: %v, %v", c.s, dim, err)
		}
		if c.want != 0 {
			near.Check(t, c.s, got, c.want, exactly, "closed form: metric prefixes")
		}
	}
	for _, s := range []string{"68 F", "5 furlong", "", "x", "99 AWG"} {
		if v, d, err := ParseAny(s); err == nil {
			t.Errorf("%q was taken as %v %v", s, v, d)
		}
	}
}

// Four figures are off by at most half a unit of the fourth: 5e-4 of a number
// that begins with 1. Temperatures are printed to 0.1 K.
func TestFormatReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dim := Dim(rapid.IntRange(0, int(dims)-1).Draw(t, "dim"))
		x := math.Pow(10, rapid.Float64Range(-9, 9).Draw(t, "log10"))
		if rapid.Bool().Draw(t, "minus") && dim != Kelvin {
			x = -x
		}
		text := Format(dim, x)
		got, err := Parse(dim, text)
		if err != nil {
			t.Fatalf("%v: %v", dim, err)
		}
		tol := 5.001e-4 * math.Abs(x)
		if dim == Kelvin {
			tol = 0.0501
		}
		if math.Abs(got-x) > tol {
			t.Fatalf("%v printed as %q reads as %v", x, text, got)
		}
		back := FromUCUM(dim, ToUCUM(dim, x))
		if math.Abs(back-x) > 1e-12*math.Abs(x)+1e-12 { // 1e-12 K from the shift by 273.15
			t.Fatalf("%v in %s comes back as %v", x, UCUM(dim), back)
		}
	})
}

func TestFormat(t *testing.T) {
	cases := []struct {
		dim  Dim
		x    float64
		want string
	}{
		{Volt, 14.2, "14.2 V"},
		{Volt, 0.42, "420 mV"},
		{Volt, -0.0031234, "-3.123 mV"},
		{Volt, 0.999996, "1 V"},
		{Volt, 0, "0 V"},
		{Ohm, 0.019034, "19.03 mΩ"},
		{Ohm, 1e6, "1 MΩ"},
		{Kelvin, 293.15, "20 °C"},
		{Kelvin, 273.14, "0 °C"},
		{AngularSpeed, FromRPM(1250), "1250 rpm"},
		{SquareMetre, 16e-6, "16 mm²"},
		{Second, 150, "2.5 min"},
		{AmpHour, 198000, "55 Ah"},
		{One, 1.225, "1.225"},
		{Metre, 1.5, "1.5 m"},
		{VoltPerKelvin, -0.01, "-10 mV/K"},
		{Farad, 2.2e-6, "2.2 µF"},
		{Volt, math.NaN(), "no value"},
		{Amp, math.Inf(1), "no value"},
		{Dim(99), 2, "2"},
	}
	for _, c := range cases {
		if got := Format(c.dim, c.x); got != c.want {
			t.Errorf("%v %v: got %q, want %q", c.dim, c.x, got, c.want)
		}
	}
}

// Every kind has words, an example that reads, a code and scales.
func TestEveryDim(t *testing.T) {
	for d := Dim(0); d < dims; d++ {
		if d.String() == "" || UCUM(d) == "" || (scales[d] == nil && d != Kelvin) {
			t.Errorf("kind %d is not complete", d)
		}
		v, err := Parse(d, d.Example())
		if err != nil {
			t.Errorf("the example of %v: %v", d, err)
		}
		if _, got, err := ParseAny(d.Example()); err != nil || (got != d && d != KelvinDiff) {
			t.Errorf("the example of %v is read as %v, %v", d, got, err)
		}
		if d == Kelvin {
			near.Check(t, "degC", ToUCUM(d, v), 20, near.Tol{Abs: 1e-12}, "closed form: T - 273.15")
		}
	}
	near.Check(t, "rpm", ToUCUM(AngularSpeed, 100*math.Pi), 3000, exactly, "closed form: 60 w / 2 pi")
	near.Check(t, "degF", Fahrenheit(FromCelsius(100)), 212, near.Tol{Abs: 1e-12}, "closed form: by definition")
	near.Check(t, "from degF", Celsius(FromFahrenheit(32)), 0, near.Tol{Abs: 1e-12}, "closed form: by definition")
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"14.2 V", "2,5 A", "-3 mV", "1.9 Ω", "68 °F", "1/min", "1250 1/min", "4/0 AWG", "AWG 10", "1,250 rpm", "NaN V", "1e400 V", "20 %", "", "−", "\xff", "5e", "0x1p4 V"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, d, err := ParseAny(s)
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%q gave %v", s, v)
		}
		if err != nil {
			if v != 0 {
				t.Fatalf("%q was refused and gave %v", s, v)
			}
			return
		}
		again, err := Parse(d, s)
		if err != nil || again != v {
			t.Fatalf("%q is %v as any quantity and %v, %v as %v", s, v, again, err, d)
		}
		if _, err := Parse(d, Format(d, v)); err != nil {
			t.Fatalf("%q prints as %q: %v", s, Format(d, v), err)
		}
	})
}
