package unit

import (
	"errors"
	"math"
	"strconv"
	"strings"
)

// The gauges taken: 4/0 (number -3) to 40.
const (
	thickest = -3
	thinnest = 40
)

// AWGArea returns the cross-section [m2] of a solid wire of an American wire
// gauge; 1/0, 2/0, 3/0, 4/0 are 0, -1, -2, -3. A stranded wire of the same gauge
// differs by some percent. Source: the gauge's definition,
// d = 0.127 mm x 92^((36-n)/39), which reproduces published wire tables.
func AWGArea(gauge int) (float64, error) {
	if gauge < thickest || gauge > thinnest {
		return 0, errors.New("is no wire gauge between 4/0 and 40")
	}
	d := 0.127e-3 * math.Pow(92, float64(36-gauge)/39)
	return math.Pi / 4 * d * d, nil
}

// parseGauge reads "AWG 10", "10 AWG", "4/0 AWG", "AWG 00". is says whether the
// text speaks of a gauge at all.
func parseGauge(s string) (area float64, is bool, err error) {
	up := strings.ToUpper(s)
	number, found := strings.CutPrefix(up, "AWG")
	if !found {
		if number, found = strings.CutSuffix(up, "AWG"); !found {
			return 0, false, nil
		}
	}
	number = strings.TrimSpace(number)
	gauge, ok := gaugeNumber(number)
	if !ok {
		return 0, true, errors.New("is not a wire gauge")
	}
	area, err = AWGArea(gauge)
	return area, true, err
}

func gaugeNumber(s string) (int, bool) {
	if n, ok := strings.CutSuffix(s, "/0"); ok {
		k, err := strconv.Atoi(n)
		return 1 - k, err == nil && k >= 1 && k <= 4
	}
	if len(s) >= 2 && len(s) <= 4 && strings.Trim(s, "0") == "" {
		return 1 - len(s), true
	}
	if s == "" || len(s) > 2 || strings.Trim(s, "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.Atoi(s)
	return n, err == nil
}
