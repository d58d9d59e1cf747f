package advice

import (
	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// Input is what is known of a job. System, Practice and Catalogue may be left
// out when Prepared is given.
type Input struct {
	System    *system.System
	Practice  *system.Practice
	Catalogue question.Catalogue
	Prepared  *Prepared // of this system; nil makes one, which takes a while

	Job       string
	Complaint string // one of Complaints(); "" = none
	Told      Told
	Vehicle   Vehicle
	Day       question.Setup // temperatures and Hot; its rig is not read
	Readings  []question.Reading
	Repairs   []Repair
	Rig       rig.State // how the vehicle stands now
	Known     uint64    // bit per place: seen, not assumed
	Leads     []string  // that were ticked as on since the last reading, by Lead.Place
	CouldNot  map[string]string
	Meters    []string // instrument ids to hand; empty = all
	Assumed   []string // what was taken for granted before, handed through
	Settings  Settings
}

// Vehicle is what the job says of the vehicle itself.
type Vehicle struct {
	Volts float64 // nominal [V]; 0 = not said
	Note  string
}

// Repair is work done. Readings with an epoch above its place in the list were
// taken after it.
type Repair struct {
	ID     string
	Repair string // repair id; "" = only What is known, and the odds stay
	What   string
	Cured  diagnosis.Cured
	Back   bool // the complaint went away and came back: Cured says what counts now
}

// Settings are the numbers of the methods.
type Settings struct {
	Diagnosis diagnosis.Settings
	Planning  planning.Settings
	Top       int // how many steps are described in full; 0 = 5
}

// DefaultSettings are those that the benchmark is printed for.
func DefaultSettings() Settings {
	return Settings{Diagnosis: diagnosis.DefaultSettings(), Planning: planning.DefaultSettings(), Top: 5}
}

// Refusal says that a vehicle is none for this system, and why.
type Refusal struct {
	Rule string // of docs/models/safety.md
	What string
}

func (r *Refusal) Error() string { return r.What + " (" + r.Rule + ")" }
