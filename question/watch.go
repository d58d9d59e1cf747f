package question

import (
	"chargewright/rig"
	"chargewright/system"
)

// ReadOut is the instrument that is no meter: what a control unit says of itself.
// No leads and no clamp go on for it.
const ReadOut = "control-unit"

// OffWatchMeter says whether an observable is read off the watch meter: battery
// volts while a hook-up has it across the posts. No leads go on for it.
func OffWatchMeter(s *system.System, at rig.State, o Observable) bool {
	if o.Kind != Volts || o.Red != s.Battery.Positive || o.Black != s.Battery.Negative {
		return false
	}
	for i, p := range s.Rig.Places {
		if p.Role == "watch-meter" && at.At(i) != s.Rig.Rest.At(i) {
			return true
		}
	}
	return false
}
