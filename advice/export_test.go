package advice

import "chargewright/planning"

// Scored is what a job's plan rests on; nil where none was made.
func (s *Standing) Scored() *planning.Scores { return s.scores.known }

// TellsApart is what a test is said to be for.
func (d *Desk) TellsApart(a, b string) string { return d.tellsApart(a, b) }
