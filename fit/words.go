package fit

import (
	"fmt"
	"math"

	"chargewright/unit"
)

// Shown is an amount as a report has it; the models' plain numbers with three figures.
func Shown(dim unit.Dim, v float64) string {
	if dim == unit.One {
		return fmt.Sprintf("%.3g", v)
	}
	return unit.Format(dim, v)
}

// Missed says how far a figure is missed, in its own tolerance.
func Missed(m float64) string {
	switch a := math.Abs(m); {
	case a < 0.005:
		return "met"
	case a <= 1:
		return fmt.Sprintf("%+.2f of its tolerance", m)
	}
	return fmt.Sprintf("MISSED by %+.1f of its tolerance", m)
}

// Wanting are the unknowns that the figures leave open and that a figure more would settle.
func (r *Result) Wanting() (out []Known) {
	for _, k := range r.Unknowns {
		if k.Verdict == Determined || k.FromTemplate || k.Verdict == Partly && len(k.With) == 0 {
			continue
		}
		out = append(out, k)
	}
	return out
}
