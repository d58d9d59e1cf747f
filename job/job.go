package job

import (
	"time"

	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// Job is what the events of a vehicle come to.
type Job struct {
	ID        string
	SystemID  string
	System    *system.System
	Vehicle   Vehicle
	Opened    time.Time // zero = not given
	Complaint Complaint // Kind "" = none given
	Meters    []string  // instrument ids to hand; empty = not said

	Ambient, Battery, Regulator, Rotor question.Temp
	Hot                                bool

	Readings []question.Reading // corrected values, in order
	Entries  []Entry            // everything that happened after the opening, in order
	Repairs  []Repair
	CouldNot map[string]string // why, by procedure; gone once it was read after all

	Rig   rig.State // how the vehicle stands now
	Known uint64    // bit per place: seen, not assumed
	Leads []string  // on for the next reading; nil after a reading, or when not said
	Epoch int       // repairs so far

	Assumed []string // what was taken for granted, as sentences to print
	Guessed []string // free readings whose hook-up is that of the test before them: nobody said it

	Customer string      // id in the workshop's table; "" = none
	Waits    WaitsBody   // For "" = it does not
	Proved   *ProvedBody // nil = not since the last reading or repair
	Signed   *SignedBody // the same

	Identified *IdentifiedBody // nil = nobody said by which looks
}

// Entry is one line of the log.
type Entry struct {
	Kind    Kind
	Seq     int
	Epoch   int       // repairs before it
	ID      string    // of a reading, a correction's reading, or a repair
	Reading int       // index into Job.Readings of a reading or a correction; else -1
	Rig     rig.State // how the vehicle stood after it
	Body    any       // ReadingBody, RigBody, CouldNotBody, CorrectBody, RepairBody and so on, as recorded

	Event        string // id of its event
	At, Recorded time.Time
	Person       string
	Back         bool // a later event took it back: it counts for nothing
}

// Repair is work done, with the epoch that it began.
type Repair struct {
	RepairBody // Cured as it was said then
	Epoch      int
	Counts     string // Cured as it counts now: otherwise once the complaint came back
	Back       bool   // it did, after a signature
}

// Reading finds a reading by its id.
func (j *Job) Reading(id string) (question.Reading, bool) {
	for _, r := range j.Readings {
		if r.ID == id {
			return r, true
		}
	}
	return question.Reading{}, false
}
