package drawing

import (
	"fmt"

	"chargewright/advice"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// ForProcedure says what the picture of a procedure shows while it is read in a
// hook-up: every meter with the number of the box that it is read in, or, with
// only above 0, that one alone.
func ForProcedure(sys *system.System, p *question.Procedure, state rig.State, only int) Options {
	o := Options{Rig: state, InTurn: question.EngineSpeed(&sys.Rig, state) == 0}
	for i, m := range p.Measure {
		if only == 0 || only == i+1 {
			o.takes(sys, state, numberOf(i, len(p.Measure)), m)
		}
	}
	return o
}

// numberOf is the number of a box; where there is but one it has none.
func numberOf(i, boxes int) int {
	if boxes < 2 {
		return 0
	}
	return i + 1
}

// ForStep says what the picture of a step shows at one line of its hook-up: the
// vehicle as it stands before that line, the place to go to, and the leads where
// they will go. From the end of the hook-up on it shows the reading.
func ForStep(sys *system.System, step advice.Step, line int) (Options, error) {
	state, err := stateOf(sys, step.FromRig)
	if err != nil {
		return Options{}, err
	}
	final := state
	for k, m := range step.Hookup {
		if final, err = moved(sys, final, m.Place, m.To); err != nil {
			return Options{}, err
		}
		if k < line {
			state = final
		}
	}
	o := Options{Rig: state, InTurn: question.EngineSpeed(&sys.Rig, final) == 0}
	if line >= 0 && line < len(step.Hookup) {
		m := step.Hookup[line]
		o.Now = &Now{Place: m.Place, To: m.To, Stage: line + 1}
	}
	for i, l := range step.Body.Leads {
		seek := question.Observable{Kind: question.Kind(l.Kind)}
		if l.Red != nil && l.Black != nil {
			seek.Red, seek.Black = l.Red.ID, l.Black.ID
		}
		if l.Through != nil {
			seek.Through = l.Through.ID
		}
		o.takes(sys, final, numberOf(i, len(step.Body.Leads)), seek)
	}
	return o, nil
}

// takes adds one reading: a pair of leads, a clamp where the hook-up has one, or
// the ammeter that it has in series.
func (o *Options) takes(sys *system.System, state rig.State, box int, seek question.Observable) {
	switch {
	case seek.Meter == question.ReadOut: // nothing goes on
	case seek.Through != "" && clampOn(sys, state):
		o.Clamps = append(o.Clamps, Clamp{seek.Through, box})
	case seek.Through != "":
		o.Series = append(o.Series, box)
	case seek.Red != "" && seek.Black != "":
		o.Leads = append(o.Leads, Lead{seek.Red, seek.Black, seek.Kind, box, question.OffWatchMeter(sys, state, seek)})
	}
}

// clampOn says whether a hook-up has the clamp meter on its wire.
func clampOn(sys *system.System, state rig.State) bool {
	for i, p := range sys.Rig.Places {
		if p.Role == "clamp" {
			return state.At(i) > 0
		}
	}
	return false
}

func stateOf(sys *system.System, places map[string]string) (rig.State, error) {
	state := sys.Rig.Rest
	var err error
	for _, p := range sys.Rig.Places {
		if to, given := places[p.ID]; given {
			if state, err = moved(sys, state, p.ID, to); err != nil {
				return state, err
			}
		}
	}
	return state, nil
}

func moved(sys *system.System, state rig.State, place, to string) (rig.State, error) {
	for i, p := range sys.Rig.Places {
		if p.ID != place {
			continue
		}
		if k := position(p, to); k >= 0 {
			return state.With(i, k), nil
		}
		return state, fmt.Errorf("place %s of system %s has no position %q", place, sys.ID, to)
	}
	return state, fmt.Errorf("system %s has no place %q", sys.ID, place)
}
