package main

import "slices"

// mendedBy are the repairs of the list whose work mends a fault that is not on it: told
// one of them the technician has the vehicle right, though by another name. What only
// mends a part of what is wrong is not among them (workshop knowledge, from memory; every
// repair's own steps say what is taken apart and looked at).
var mendedBy = map[string][]string{
	"outside-leaky-diodes":      {"fit-rectifier", "exchange-alternator", "mend-drain"}, // a drain is followed along the charge wire to the rectifier
	"outside-output-stage":      {"fit-regulator"},
	"outside-stator-of-another": {"exchange-alternator"},
	"outside-stator-joint":      {"exchange-alternator", "fit-rectifier"}, // its leads are soldered anew
	"outside-bearing":           {"exchange-alternator"},
	"outside-rotor-core":        {"exchange-alternator"},
	"outside-field-leak":        {"exchange-alternator", "fit-brushes"}, // the dust goes with the old brushes
	"outside-two-cells":         {"renew-battery"},
	"outside-backfeed":          {"mend-drain"}, // the wire that keeps the circuit fed is what stays on
}

// told counts vehicles whose fault is not on the list by what the leading cure is worth.
type told struct{ open, mends, other, wrong int }

// tell counts what the leading cure is worth to a vehicle.
func (t *told) tell(fault, class string, share float64, nothing bool) {
	switch {
	case nothing || share < 0.5:
		t.open++
	case slices.Contains(mendedBy[fault], class):
		t.mends++
	case share > 0.9:
		t.wrong++
	default:
		t.other++
	}
}
