package account

import "slices"

// Role is what somebody is in the workshop.
type Role string

// The roles. There is one owner.
const (
	Owner      Role = "owner"
	Technician Role = "technician"
	Adviser    Role = "adviser"
	Instructor Role = "instructor"
	Apprentice Role = "apprentice"
)

// Duty is a kind of thing that is done in the workshop. The zero value is none,
// and nobody may do it.
type Duty int

// The duties.
const (
	Anyone      Duty = iota + 1 // what whoever asks may see, signed in or not
	Own                         // one's own account and views
	Look                        // jobs with all that was read, papers, systems, instruments
	Desk                        // open a job, book the customer in, say what a job waits for
	Measure                     // hook up, take readings, correct them, say what could not be taken
	Mend                        // record a repair
	Close                       // prove a job and sign it off
	Systems                     // write and keep systems
	Instruments                 // enter, change and withdraw instruments
	People                      // invite people, change their roles, withdraw them
	Run                         // see how the program runs
)

// duties say what each role may do: the one table of it. Anyone's is not in it.
var duties = map[Role][]Duty{
	Owner:      {Own, Look, Desk, Measure, Mend, Close, Systems, Instruments, People, Run},
	Technician: {Own, Look, Desk, Measure, Mend, Close},
	Adviser:    {Own, Look, Desk},
	Instructor: {Own, Look},
	Apprentice: {Own, Look, Measure},
}

// May says whether a role may do something. A role that is not known, as a newer
// program may have stored it, may do nothing.
func (r Role) May(d Duty) bool { return d == Anyone || slices.Contains(duties[r], d) }

// Invited are the roles that somebody can be invited to.
func Invited() []Role { return []Role{Technician, Adviser, Instructor, Apprentice} }

// Words say what a role does.
func (r Role) Words() string {
	return map[Role]string{
		Owner:      "does everything, and looks after people, systems and instruments",
		Technician: "does the whole job: opens it, reads, mends, proves and signs",
		Adviser:    "opens jobs, books customers in, says what a job waits for, gives out the papers; takes no readings",
		Instructor: "reads everything and changes nothing",
		Apprentice: "hooks up and takes readings; does not repair, prove or sign",
	}[r]
}

// Words say what a duty is, as what somebody does.
func (d Duty) Words() string {
	return map[Duty]string{
		Own: "looking after one's own account", Look: "looking at jobs", Desk: "opening jobs and booking customers in", Measure: "taking readings",
		Mend: "recording repairs", Close: "proving and signing", Systems: "changing systems", Instruments: "changing the list of instruments",
		People: "inviting people and changing what they may do", Run: "seeing how the program runs",
	}[d]
}

// Who lists the roles that have a duty.
func (d Duty) Who() []Role {
	var out []Role
	for _, r := range append([]Role{Owner}, Invited()...) {
		if r.May(d) {
			out = append(out, r)
		}
	}
	return out
}
