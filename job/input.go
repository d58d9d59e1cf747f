package job

import (
	"strings"

	"chargewright/advice"
	"chargewright/diagnosis"
	"chargewright/question"
	"chargewright/system"
)

// Input is the job as advice wants it, with the figures and procedures of a
// workshop.
func (j *Job) Input(practice *system.Practice, procs question.Catalogue) advice.Input {
	in := advice.Input{
		System: j.System, Practice: practice, Catalogue: procs, Settings: advice.DefaultSettings(),
		Job: j.ID, Complaint: j.Complaint.Kind, Told: advice.Told{When: j.Complaint.When, Before: j.Complaint.Before, Noticed: j.Complaint.Noticed, Use: j.Complaint.Use},
		Vehicle:  advice.Vehicle{Volts: j.Vehicle.Volts, Note: j.Vehicle.Note},
		Day:      question.Setup{Ambient: j.Ambient, Battery: j.Battery, Reg: j.Regulator, Rotor: j.Rotor, Hot: j.Hot},
		Readings: j.Readings, Rig: j.Rig, Known: j.Known, Leads: j.Leads, CouldNot: j.CouldNot, Meters: j.Meters, Assumed: j.Assumed,
	}
	for _, r := range j.Repairs {
		in.Repairs = append(in.Repairs, advice.Repair{
			ID: r.ID, Repair: repairOf(j.System, r), What: strings.TrimSpace(r.Part + " " + r.What), Cured: diagnosis.Cured(r.Counts), Back: r.Back,
		})
	}
	return in
}

// repairOf is the repair that was done: as recorded, or the only one that the
// part which was named can have.
func repairOf(sys *system.System, r Repair) string {
	if r.Repair != "" || r.Part == "" {
		return r.Repair
	}
	only := ""
	for _, f := range sys.Faults {
		switch {
		case f.Part != r.Part || f.Outside:
		case only == "":
			only = f.Repair
		case only != f.Repair:
			return ""
		}
	}
	return only
}
