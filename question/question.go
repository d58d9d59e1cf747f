// Package question says what can be asked of a vehicle and what came back: a
// Question is a set of observables taken together in one setup, a Reading is
// its answer. Catalogue procedures are named questions. It computes nothing.
//
// Open catalogue.go for how procedure files are read.
package question

import (
	"chargewright/rig"
)

// Kind is the kind of quantity an observable asks for.
type Kind string

// The kinds a procedure or free reading may ask for.
const (
	Volts   Kind = "volts"    // DC volts, red minus black [V]
	Amps    Kind = "amps"     // DC amps through a branch, positive from its first to its second point [A]
	ACVolts Kind = "ac-volts" // rms of the alternating part [V]
	Ohms    Kind = "ohms"     // resistance between two points, circuit dead [Ohm]
	Density Kind = "density"  // specific gravity of the electrolyte, temperature-corrected [1]
	Look    Kind = "look"     // something seen, felt or heard: one class out of a list
	Speed   Kind = "speed"    // engine speed [rad/s]
)

// Observable is one thing measured or looked at.
type Observable struct {
	Kind     Kind
	Red      string   // point id of the red lead (volts, ac-volts, ohms)
	Black    string   // point id of the black lead
	Through  string   // branch (joint, wire, load) id for amps
	Cell     int      // battery cell 1..6 for density, 0 = all
	Meter    string   // instrument id
	Classes  []string // for a look, the classes in order
	Note     string   // what the box on the form is called
	Optional bool     // may be left out without making the reading incomplete
}

// Hold is what the technician adjusts by hand, and to what.
type Hold struct {
	What   string  // battery-volts, bank-amps, output-amps
	Target float64 // SI
}

// Temp is a temperature [K] with its standard uncertainty, or "derive it".
type Temp struct {
	K, U   float64
	Derive bool
}

// Setup is how the vehicle stands while something is measured: the discrete
// rig and the operating point.
type Setup struct {
	Rig     rig.State
	Known   uint64  // bit per place: seen, not assumed
	Engine  float64 // engine speed [rad/s]; 0 = standing
	Hold    []Hold
	Ambient Temp
	Battery Temp
	Reg     Temp
	Rotor   Temp
	Hot     bool // engine bay soaked: at least 15 minutes under load
}

// Question asks for several observables taken together in one setup.
type Question struct {
	Procedure string // "" = a free reading
	Setup     Setup
	Seek      []Observable
}

// How a value came about.
type How string

// The ways a value can stand in a reading.
const (
	Measured How = "measured"
	Over     How = "over"      // above the meter's range; Lo is the range's end
	Under    How = "under"     // below what the meter shows; Hi is that
	Between  How = "between"   // somewhere in Lo..Hi, would not hold still
	Class    How = "class"     // a look
	NotTaken How = "not-taken" // could not; Why says why
)

// Value is one answer to one observable, SI.
type Value struct {
	How    How
	X      float64
	Lo, Hi float64
	U      float64 // standard uncertainty stated by the person, 0 = from the meter
	Class  string
	Why    string
}

// Showing says whether the complaint was present while the reading was taken.
type Showing string

// Whether the fault was doing it at the moment.
const (
	CannotTell Showing = ""
	DoingIt    Showing = "yes"
	NotNow     Showing = "no"
)

// Reading answers a Question. Values stand in the order of Question.Seek.
type Reading struct {
	ID       string
	Question Question
	Values   []Value
	Seat     int // readings with the same seat share a bad contact; 0 = its own
	Epoch    int // repairs before it; set by the fold, never typed
	Showing  Showing
	Basis    string // entered, live, capture:<sha256>, simulated
}
