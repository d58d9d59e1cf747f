package unit

import "strings"

// meaning is one reading of a unit's name: SI = (number + offset) * factor.
type meaning struct {
	dim            Dim
	factor, offset float64
}

// prefixes of the metric system that the table below asks for by letter.
var prefixes = map[rune]struct {
	factor float64
	names  []string
}{
	'p': {1e-12, []string{"p"}},
	'n': {1e-9, []string{"n"}},
	'u': {1e-6, []string{"u", "µ", "μ"}}, // micro sign and Greek mu
	'm': {1e-3, []string{"m"}},
	'c': {1e-2, []string{"c"}},
	'k': {1e3, []string{"k"}},
	'M': {1e6, []string{"M"}},
}

// metric units with the prefixes each may carry. A prefix that nobody needs is
// left out, so that "MV" typed for "mV" is refused.
var metric = []struct {
	dim      Dim
	factor   float64
	prefixes string
	names    string
}{
	{Volt, 1, "umk", "V"},
	{Amp, 1, "num", "A"},
	{Ohm, 1, "umkM", "ohm Ohm Ω Ω"}, // Greek omega and ohm sign
	{Farad, 1, "pnum", "F"},
	{Henry, 1, "um", "H"},
	{Watt, 1, "mk", "W"},
	{Hertz, 1, "k", "Hz"},
	{Second, 1, "num", "s"},
	{Metre, 1, "mck", "m"},
	{AmpHour, 3600, "m", "Ah A.h A·h"},
	{VoltPerKelvin, 1, "um", "V/K V/degC V/°C"},
	{VoltSecond, 1, "m", "Vs V.s Wb"},
}

// plain units, their names separated by bars.
var plain = []struct {
	meaning
	names string
}{
	{meaning{One, 0.01, 0}, "%|percent"},
	{meaning{Volt, 1, 0}, "volt|volts"},
	{meaning{Amp, 1, 0}, "amp|amps|ampere|amperes"},
	{meaning{Ohm, 1, 0}, "ohms|Ohms"},
	{meaning{Watt, 1, 0}, "watt|watts"},
	{meaning{Second, 1, 0}, "sec|second|seconds"},
	{meaning{Second, 60, 0}, "min|minute|minutes"},
	{meaning{Second, 3600, 0}, "h|hour|hours"},
	{meaning{Metre, 1, 0}, "metre|metres|meter|meters"},
	{meaning{Metre, 0.3048, 0}, "ft|foot|feet"},
	{meaning{Metre, 0.0254, 0}, "in|inch|inches"},
	{meaning{SquareMetre, 1, 0}, "m2|m²|m^2"},
	{meaning{SquareMetre, 1e-4, 0}, "cm2|cm²|cm^2"},
	{meaning{SquareMetre, 1e-6, 0}, "mm2|mm²|mm^2|sq mm"},
	{meaning{Kelvin, 1, 0}, "K"},
	{meaning{KelvinDiff, 1, 0}, "K"},
	{meaning{Kelvin, 1, ZeroCelsius}, "degC|deg C|°C|° C|℃|C|Cel"},
	{meaning{Kelvin, 1 / 1.8, 459.67}, "degF|deg F|°F|° F|℉|F"},
	{meaning{AngularSpeed, rpm, 0}, "rpm|r/min|1/min|/min|rev/min|min-1|min^-1"},
	{meaning{AngularSpeed, 1, 0}, "rad/s"},
	{meaning{AmpHour, 1, 0}, "As|A.s"},
	{meaning{VoltSecond, 1, 0}, "V s|V s/rad|Vs/rad|V.s/rad"},
	{meaning{PerKelvin, 1, 0}, "1/K|/K|1/degC|1/°C"},
	{meaning{PerKelvin, 0.01, 0}, "%/K"},
	{meaning{NewtonMetre, 1, 0}, "N m|Nm|N.m"},
}

// exact and folded hold every name, as written and in lower case.
var exact, folded = names()

func names() (exact, folded map[string][]meaning) {
	exact, folded = map[string][]meaning{}, map[string][]meaning{}
	put := func(name string, m meaning) {
		exact[name] = append(exact[name], m)
		low := strings.ToLower(name)
		for _, have := range folded[low] {
			if have == m {
				return
			}
		}
		folded[low] = append(folded[low], m)
	}
	for _, u := range metric {
		for _, name := range strings.Fields(u.names) {
			put(name, meaning{u.dim, u.factor, 0})
			for _, p := range u.prefixes {
				for _, letter := range prefixes[p].names {
					put(letter+name, meaning{u.dim, u.factor * prefixes[p].factor, 0})
				}
			}
		}
	}
	for _, u := range plain {
		for _, name := range strings.Split(u.names, "|") {
			put(name, u.meaning)
		}
	}
	return exact, folded
}

// meanings looks a unit's name up, first as written. Other spelling of capitals
// is taken only where it cannot change the meaning: "RPM" and "mv" yes; "MOHM",
// "MV" for mV, a lone "S" or "M" no.
func meanings(name string) []meaning {
	name = strings.Join(strings.Fields(name), " ")
	if m := exact[name]; m != nil {
		return m
	}
	low := strings.ToLower(name)
	if low == "" || len(low) == 1 && !strings.Contains("vaw", low) {
		return nil
	}
	if m := folded[low]; len(m) == 1 && !(name[0] == 'M' && m[0].factor < 1) {
		return m
	}
	return nil
}
