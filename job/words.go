package job

import (
	"slices"

	"chargewright/question"
	"chargewright/system"
	"chargewright/unit"
)

// ComplaintKinds are the kinds of complaint.
var ComplaintKinds = []string{"no-charge", "low-charge", "overcharge", "flat-battery", "other"}

// BeforeWords are what may have been done just before the trouble began.
var BeforeWords = []string{
	"battery-changed", "jump-started", "charged-connected", "engine-out", "welding", "belt-changed",
	"alternator-replaced", "regulator-replaced", "instrument-work", "equipment-added", "washed", "nothing",
}

// NoticedWords are what may have been noticed besides.
var NoticedWords = []string{
	"squeal", "growl", "whine", "eggs-smell", "burnt-smell", "warm-when-cold", "hot-cable",
	"dim-lights", "bright-lights", "blown-bulbs", "ammeter-discharge", "ammeter-charge", "slow-cranking",
}

// UseWords are how the vehicle may be used.
var UseWords = []string{"short-trips", "mostly-at-night", "stands-for-weeks", "long-runs", "ordinary"}

// spokenOccasions are words for an occasion that people use beside the system
// file's own.
var spokenOccasions = map[string]string{"bumps": "vibration", "loads": "load"}

// Occasions are the words for when the trouble shows.
func Occasions() []string {
	out := slices.Clone(system.Occasions)
	for w := range spokenOccasions {
		out = append(out, w)
	}
	slices.Sort(out)
	return out
}

// freeQuantities can be asked between two points or through a branch.
var freeQuantities = []string{string(question.Volts), string(question.ACVolts), string(question.Amps), string(question.Ohms)}

// WithWords are what may stand on other meters beside a reading.
var WithWords = []string{"battery-volts", "output-amps", "battery-amps", "field-amps", "bank-amps", "engine"}

// withDims are their units.
var withDims = map[string]unit.Dim{
	"battery-volts": unit.Volt, "output-amps": unit.Amp, "battery-amps": unit.Amp,
	"field-amps": unit.Amp, "bank-amps": unit.Amp, "engine": unit.AngularSpeed,
}

// observableOf returns where a word of WithWords is measured on a system; false
// when it is no meter's reading (bank-amps is what the load tester itself
// shows) or the system has no such branch.
func observableOf(s *system.System, word string) (question.Observable, bool) {
	switch word {
	case "battery-volts":
		return question.Observable{Kind: question.Volts, Red: s.Battery.Positive, Black: s.Battery.Negative, Meter: "dmm", Note: "battery volts"}, true
	case "engine":
		return question.Observable{Kind: question.Speed, Meter: "tachometer", Note: "engine speed"}, true
	case "output-amps":
		return amps(s, "output amps", s.Machine.Output, true)
	case "battery-amps":
		return amps(s, "battery amps, charging counted positive", s.Battery.Positive, false)
	case "field-amps":
		return amps(s, "field amps", s.Machine.RingA, false)
	}
	return question.Observable{}, false
}

// amps finds the branch that carries all the current out of (from) or into a
// point: the one joint or wire with that end there.
func amps(s *system.System, note, point string, from bool) (question.Observable, bool) {
	for _, e := range s.Elements {
		if e.Kind != system.Joint && e.Kind != system.Wire {
			continue
		}
		if from && e.From == point || !from && e.To == point {
			return question.Observable{Kind: question.Amps, Through: e.ID, Meter: "dc-clamp", Note: note}, true
		}
	}
	return question.Observable{}, false
}
