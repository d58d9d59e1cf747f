package drawing

import (
	"fmt"

	"chargewright/advice"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// ForProcedure says what the picture of a procedure shows while it is read in a
// hook-up: the leads of the box-th of its readings first, then the others.
func ForProcedure(sys *system.System, p *question.Procedure, state rig.State, box int) Options {
	o := Options{Rig: state}
	for i := range p.Measure {
		m := p.Measure[(i+max(0, box))%len(p.Measure)]
		o.takes(sys, state, string(m.Kind), m.Red, m.Black, m.Through)
	}
	return o
}

// ForStep says what the picture of a step shows at one line of its hook-up: the
// vehicle as it stands before that line, the place to go to, and the leads where
// they will go. From the end of the hook-up on it shows the reading.
func ForStep(sys *system.System, step advice.Step, line, box int) (Options, error) {
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
	o := Options{Rig: state}
	if line >= 0 && line < len(step.Hookup) {
		m := step.Hookup[line]
		o.Now = &Now{Place: m.Place, To: m.To, Stage: line + 1}
	}
	for i := range step.Body.Leads {
		l := step.Body.Leads[(i+max(0, box))%len(step.Body.Leads)]
		red, black, through := "", "", ""
		if l.Red != nil && l.Black != nil {
			red, black = l.Red.ID, l.Black.ID
		}
		if l.Through != nil {
			through = l.Through.ID
		}
		o.takes(sys, final, l.Kind, red, black, through)
	}
	return o, nil
}

// takes adds one reading: a pair of leads, or a clamp where the hook-up has one.
func (o *Options) takes(sys *system.System, state rig.State, kind, red, black, through string) {
	switch {
	case through != "":
		if clampOn(sys, state) {
			o.Clamps = append(o.Clamps, Clamp{through})
		}
	case red != "" && black != "":
		o.Leads = append(o.Leads, Lead{red, black, question.Kind(kind)})
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
