package unit

import (
	"math"
	"strconv"
	"strings"
)

// scale is one printed unit: symbol and how many SI units it is.
type scale struct {
	symbol string
	size   float64
}

// scales a kind is printed in, smallest first: the largest that leaves at least
// 1 is chosen.
var scales = [dims][]scale{
	One:           {{"", 1}},
	Volt:          {{"µV", 1e-6}, {"mV", 1e-3}, {"V", 1}},
	Amp:           {{"µA", 1e-6}, {"mA", 1e-3}, {"A", 1}},
	Ohm:           {{"µΩ", 1e-6}, {"mΩ", 1e-3}, {"Ω", 1}, {"kΩ", 1e3}, {"MΩ", 1e6}},
	Farad:         {{"pF", 1e-12}, {"nF", 1e-9}, {"µF", 1e-6}, {"mF", 1e-3}},
	Henry:         {{"µH", 1e-6}, {"mH", 1e-3}, {"H", 1}},
	Watt:          {{"mW", 1e-3}, {"W", 1}, {"kW", 1e3}},
	Hertz:         {{"Hz", 1}, {"kHz", 1e3}},
	Second:        {{"µs", 1e-6}, {"ms", 1e-3}, {"s", 1}, {"min", 60}, {"h", 3600}},
	Metre:         {{"mm", 1e-3}, {"m", 1}},
	SquareMetre:   {{"mm²", 1e-6}},
	KelvinDiff:    {{"K", 1}},
	AngularSpeed:  {{"rpm", rpm}},
	AmpHour:       {{"mAh", 3.6}, {"Ah", 3600}},
	VoltPerKelvin: {{"mV/K", 1e-3}},
	PerKelvin:     {{"1/K", 1}},
	VoltSecond:    {{"mV.s", 1e-3}, {"V.s", 1}},
	NewtonMetre:   {{"N m", 1}},
}

// figures printed of a number.
const figures = 4

// Format prints an SI value for people, with four significant figures and the
// prefix that suits it; temperatures in degC to a tenth. Parse reads it back.
// A value that is not a finite number prints as "no value".
func Format(dim Dim, si float64) string {
	dim = dim.known()
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return "no value"
	}
	if dim == Kelvin {
		return trim(strconv.FormatFloat(Celsius(si), 'f', 1, 64)) + " °C"
	}
	list := scales[dim]
	pick := list[0]
	if si == 0 {
		pick = scale{about[dim].symbol, 1}
		for _, s := range list {
			if s.size == 1 {
				pick = s
			}
		}
	}
	for _, s := range list[1:] {
		// A hair under 1 because 999.96 mV prints as 1 V, not as 1000 mV.
		if math.Abs(si) >= s.size*0.99995 {
			pick = s
		}
	}
	return strings.TrimSpace(digits(si/pick.size) + " " + pick.symbol)
}

// digits prints a number with the usual significant figures and no needless
// zeros.
func digits(x float64) string {
	size := math.Abs(x)
	switch {
	case size == 0:
		return "0"
	case size < 1e-4 || size >= 1e7:
		return strconv.FormatFloat(x, 'e', figures-1, 64)
	}
	places := figures - 1 - int(math.Floor(math.Log10(size)))
	return trim(strconv.FormatFloat(x, 'f', max(places, 0), 64))
}

// trim takes off zeros behind the decimal point and the sign of a zero.
func trim(s string) string {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// codes are the UCUM codes in which numbers leave the program, and the scale of
// each. Source: the Unified Code for Units of Measure (memory).
var codes = [dims]scale{
	One: {"1", 1}, Volt: {"V", 1}, Amp: {"A", 1}, Ohm: {"Ohm", 1}, Farad: {"F", 1}, Henry: {"H", 1},
	Watt: {"W", 1}, Hertz: {"Hz", 1}, Second: {"s", 1}, Metre: {"m", 1}, SquareMetre: {"mm2", 1e-6},
	Kelvin: {"Cel", 1}, KelvinDiff: {"K", 1}, AngularSpeed: {"r/min", rpm}, AmpHour: {"A.h", 3600},
	VoltPerKelvin: {"V/K", 1}, PerKelvin: {"K-1", 1}, VoltSecond: {"V.s", 1}, NewtonMetre: {"N.m", 1},
}

// UCUM returns the code of the unit that ToUCUM gives numbers in.
func UCUM(dim Dim) string { return codes[dim.known()].symbol }

// ToUCUM converts an SI value to the unit that UCUM names: degC, r/min, mm2,
// A.h; the SI unit otherwise.
func ToUCUM(dim Dim, si float64) float64 {
	if dim = dim.known(); dim == Kelvin {
		return Celsius(si)
	}
	return si / codes[dim].size
}

// FromUCUM is the inverse of ToUCUM.
func FromUCUM(dim Dim, x float64) float64 {
	if dim = dim.known(); dim == Kelvin {
		return FromCelsius(x)
	}
	return x * codes[dim].size
}
