package battery

import (
	"fmt"

	"chargewright/unit"
)

// DensityFromSoC is the specific gravity at 80 degF for a state of charge 0..1,
// for electrolyte of 1.265 at full charge. Source: see density.
func DensityFromSoC(soc float64) (float64, error) {
	if !(soc >= 0 && soc <= 1) {
		return 0, fmt.Errorf("a state of charge of %g is outside 0 to 1", soc)
	}
	sg, _ := density(soc)
	return sg, nil
}

// halfDigit is half of the last figure a specific gravity is written with.
const halfDigit = 0.0005

// SoCFromDensity is the inverse of DensityFromSoC; correct the reading for
// temperature first. Batteries filled with another full-charge density (1.280
// temperate, 1.225 tropical) need their own table and are not to be read in
// this one.
func SoCFromDensity(sg float64) (float64, error) {
	if !(sg >= 1.120-halfDigit && sg <= 1.265+halfDigit) {
		return 0, fmt.Errorf("a specific gravity of %.3f is outside 1.120 to 1.265 of the table for 1.265 electrolyte: correct it for temperature, and see which electrolyte the battery was filled with", sg)
	}
	lo, hi := 0.0, 1.0
	for range 60 {
		mid := (lo + hi) / 2
		if at, _ := density(mid); at < sg {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2, nil
}

// CorrectDensity corrects a hydrometer reading taken at electrolyte temperature
// kelvin to 80 degF: 0.004 for each 10 degF, added above and taken off below.
// Source: technician study guide and marine generating-set manual (read); agrees
// with US Army TM 5-1185 Table IV to 0.001 from -65 to 120 degF.
func CorrectDensity(reading, kelvin float64) (float64, error) {
	if !(reading >= 1.0 && reading <= 1.4) {
		return 0, fmt.Errorf("a specific gravity of %g is outside 1.000 to 1.400: read the hydrometer again", reading)
	}
	const low, high = 219.2, 328.0 // [K] -65 and 130 degF, a hair wider
	if !(kelvin >= low && kelvin <= high) {
		return 0, fmt.Errorf("an electrolyte temperature of %.1f K is outside -54 to 54 degC: see the thermometer", kelvin)
	}
	return reading + 0.004*(unit.Fahrenheit(kelvin)-80)/10, nil
}

// point of a table.
type point struct{ x, y float64 }

// interpolate goes straight from point to point; x must lie inside.
func interpolate(t []point, x float64) float64 {
	for i := 1; i < len(t); i++ {
		if a, b := t[i-1], t[i]; x <= b.x {
			return a.y + (b.y-a.y)*(x-a.x)/(b.x-a.x)
		}
	}
	return t[len(t)-1].y
}

// freezing: specific gravity at 80 degF, freezing point [degF]. Source: US Army
// subcourse OD1002 Lesson 2, and TM 5-1185 Table III from 1.100 on (read).
var freezing = []point{{1.000, 32}, {1.100, 19}, {1.150, 5}, {1.200, -16}, {1.250, -62}, {1.280, -90}}

// FreezingPoint is the temperature [K] at which electrolyte of a specific
// gravity (at 80 degF) begins to freeze, straight between the table's rows. A
// battery near it is not charged, loaded or jump-started.
func FreezingPoint(sg float64) (float64, error) {
	if !(sg >= 1.000 && sg <= 1.280) {
		return 0, fmt.Errorf("a specific gravity of %g is outside 1.000 to 1.280 of the freezing table", sg)
	}
	return unit.FromFahrenheit(interpolate(freezing, sg)), nil
}

// loadTest: battery [degF], lowest volts of six cells at half the cold-cranking
// current after 15 s. Source: 70 degF technician study guide, 40 to 60 degF
// battery FAQ's rule of 0.1 V per 10 degF (read); below 40 degF a trade table
// from memory.
var loadTest = []point{{0, 8.5}, {10, 8.7}, {20, 8.9}, {30, 9.1}, {40, 9.3}, {50, 9.4}, {60, 9.5}, {70, 9.6}}

// MinLoadTestVolts is the lowest voltage [V] that a battery may show after 15 s
// at half its cold-cranking current, at a battery temperature [K], for the
// model's number of cells. Above 70 degF the trade holds 9.6 V; the FAQ's rule
// would go on to 9.9 V at 100 degF. basis is "read" or, below 40 degF, "memory".
// The test needs at least three quarters of charge, and no battery that is
// frozen, cracked or gassing.
func (m Model) MinLoadTestVolts(kelvin float64) (volts float64, basis string, err error) {
	f := unit.Fahrenheit(kelvin)
	if !(f >= -0.01 && f <= 120) {
		return 0, "", fmt.Errorf("a battery temperature of %.1f K is outside -18 to 49 degC of the load-test table: warm or cool the battery", kelvin)
	}
	basis = "read"
	if f < 40-0.01 {
		basis = "memory"
	}
	return interpolate(loadTest, max(f, 0)) * m.scale(), basis, nil
}
