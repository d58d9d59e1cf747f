package advice

import (
	"chargewright/planning"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// LeadsOf are the leads of a list of observables on a system that nobody has prepared.
func LeadsOf(sys *system.System, list []question.Observable) []Lead {
	var rest rig.State
	return (&Desk{Prepared: &Prepared{System: sys}}).leads(list, rest)
}

// Scored is what a job's plan rests on; nil where none was made.
func (s *Standing) Scored() *planning.Scores { return s.scores.known }

// TellsApart is what a test is said to be for.
func (d *Desk) TellsApart(a, b string) string { return d.tellsApart(a, b) }
