package advice

import (
	"fmt"
	"slices"
	"strings"

	"chargewright/system"
	"chargewright/unit"
)

// highVolts is the nominal voltage above which a vehicle is left alone [V].
// Source: docs/models/safety.md R35, common practice.
const highVolts = 48

// refuse says why a vehicle is none for a system, nil when nothing speaks
// against it. Words in the note are enough: better one question too many.
func refuse(sys *system.System, v Vehicle) error {
	note := " " + strings.ToLower(strings.NewReplacer("-", " ", ",", " ", ".", " ", ";", " ").Replace(v.Note)) + " "
	if v.Volts > highVolts || says(note, "hybrid", "electric vehicle", "electric car", "electric drive", "high voltage") {
		return &Refusal{"R35", "hybrid, electric or over 48 V: nothing beyond the resting voltage of the 12 V battery is measured here; this is for people trained on high voltage, by the maker's manual"}
	}
	if v.Volts > 0 && v.Volts != sys.Volts {
		return &Refusal{"R38", fmt.Sprintf("the vehicle has %s and %s is for %s: choose the system that belongs to it",
			unit.Format(unit.Volt, v.Volts), sys.ID, unit.Format(unit.Volt, sys.Volts))}
	}
	if negative(sys) && says(note, "positive earth", "positive ground") {
		return &Refusal{"R33", "positive earth: " + sys.ID + " has its negative pole earthed, so every reading and every lead would be the wrong way round"}
	}
	if says(note, "dynamo", "control box") {
		return &Refusal{"R33", "a dynamo with a control box is another machine: " + sys.ID + " is an alternator, and its tests would burn the dynamo's field"}
	}
	if strings.HasPrefix(sys.Regulator.Kind, "earth-side") &&
		says(note, "supply side regulator", "regulator on the supply side", "field earthed inside", "brush earthed", "single field terminal", "one field terminal") {
		return &Refusal{"R33", "the note speaks of a field that is earthed inside or of a regulator on the supply side, and " + sys.ID +
			" has its regulator on the earth side: with the two mixed the field runs full or not at all; see which field terminals are there before anything is joined"}
	}
	if strings.HasPrefix(sys.Regulator.Kind, "supply-side") &&
		says(note, "earth side regulator", "regulator on the earth side", "three way plug", "field fed inside", "field fed from the output") {
		return &Refusal{"R33", "the note speaks of a regulator on the earth side or of a field that is fed inside, and " + sys.ID +
			" feeds its field: with the two mixed there is no field, and an earth on the field wire shorts the regulator; see which field terminals are there before anything is joined"}
	}
	return nil
}

// negative reports that the system measures from the battery's negative post.
func negative(sys *system.System) bool {
	return slices.ContainsFunc(sys.Points, func(p system.Point) bool { return p.Reference && p.ID == sys.Battery.Negative })
}

// says reports whether a note has one of the phrases, and not in the negative:
// "no hybrid", "not a dynamo".
func says(note string, phrases ...string) bool {
	for _, p := range phrases {
		i := strings.Index(note, " "+p+" ")
		if i < 0 {
			continue
		}
		before := strings.Fields(note[:i])
		if n := len(before); n > 0 && slices.Contains(before[max(0, n-2):], "not") || n > 0 && slices.Contains([]string{"no", "never"}, before[n-1]) {
			continue
		}
		return true
	}
	return false
}
