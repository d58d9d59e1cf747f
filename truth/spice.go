package truth

import (
	"fmt"
	"math"
	"slices"

	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// Spice is a hidden vehicle that an independent circuit simulator solves in the
// time domain, one run for each setup. Ohms and density come from the product's
// own model: a dead circuit of resistances and a polynomial are no place where
// physics differ.
type Spice struct {
	Vehicle Vehicle
	Options Options
	Looks   Looks
	// Simulate runs ngspice on a netlist in batch mode and returns its raw
	// file. The package itself starts no program.
	Simulate func(netlist string) ([]byte, error)

	model *prediction.Model
	twin  *Table
	where *numbering
	runs  map[string]*Run
}

// NewSpice returns a vehicle that simulate solves.
func NewSpice(m *prediction.Model, v Vehicle, o Options, simulate func(string) ([]byte, error)) *Spice {
	points, elems := names(m)
	return &Spice{Vehicle: v, Options: o, Simulate: simulate, model: m, twin: v.Table(m, Looks{}), where: numbered(points, elems), runs: map[string]*Run{}}
}

func names(m *prediction.Model) (points, elems []string) {
	for _, p := range m.Sys.Points {
		points = append(points, p.ID)
	}
	for _, e := range m.Sys.Elements {
		elems = append(elems, e.ID)
	}
	return points, elems
}

// longestSettle is the last try [s]; wakingSettle the first of a machine that has to
// wake first.
const (
	longestSettle = 2.4
	wakingSettle  = 2 * firstSettle
)

// Run returns the settled run for a setup, simulating it when it is new. A run
// that does not settle within longestSettle is returned with its drift.
func (s *Spice) Run(set question.Setup) (*Run, error) {
	words := standing(s.model.Sys, set)
	if r, ok := s.runs[words]; ok {
		return r, nil
	}
	r, err := s.Vehicle.Simulate(s.model, set, s.Options, s.Simulate)
	if err != nil {
		return nil, err
	}
	s.runs[words] = r
	return r, nil
}

// Simulate runs a vehicle in a setup until it has settled. A try that found no
// answer, or had not settled, is followed by a longer, slower and finer one.
func (v *Vehicle) Simulate(m *prediction.Model, set question.Setup, o Options, simulate func(string) ([]byte, error)) (*Run, error) {
	var best *Run
	var problem error
	first := firstSettle
	if m.Sys.Machine.DPlus != "" && speed(m.Sys, set) > 0 {
		first = wakingSettle
	}
	for settle := first; settle < longestSettle*1.01; settle *= 2 {
		n, err := v.Write(m, set, o, settle)
		if err != nil {
			return nil, err
		}
		r, err := n.try(settle, simulate)
		if err != nil {
			problem = fmt.Errorf("truth: %s, %s, settling for %.1f s: %w", v.Name, n.Standing, settle, err)
			continue
		}
		if best == nil || r.Drift < best.Drift {
			best = r
		}
		if r.Drift <= 1 {
			break
		}
	}
	if best == nil {
		return nil, problem
	}
	return best, nil
}

func (n *Netlist) try(settle float64, simulate func(string) ([]byte, error)) (*Run, error) {
	raw, err := simulate(n.Text)
	if err != nil {
		return nil, err
	}
	r, err := n.Settled(raw, settle)
	return &r, err
}

// Answer implements Answerer.
func (s *Spice) Answer(q question.Question) ([]question.Value, error) {
	return answerFrom(s.model, &s.Vehicle, s.Looks, s.twin, s.where, q, s.Run)
}

// answerFrom answers from runs, the twin and the looks. What takes a running
// engine is not taken where the ignition is dead.
func answerFrom(m *prediction.Model, v *Vehicle, l Looks, twin *Table, where *numbering, q question.Question, run func(question.Setup) (*Run, error)) ([]question.Value, error) {
	var out []question.Value
	for _, o := range q.Seek {
		val := question.Value{How: question.Measured}
		var err error
		switch o.Kind {
		case question.Look:
			val, _, err = others(m.Sys, v, l, q, o)
		case question.Ohms, question.Density:
			one := q
			one.Seek = []question.Observable{o}
			var vals []question.Value
			if vals, err = twin.Answer(one); err == nil {
				val = vals[0]
			}
		default:
			var r *Run
			if r, err = run(q.Setup); err != nil {
				break
			}
			if r.Stalls(m.Sys) {
				val = question.Value{How: question.NotTaken, Why: "the engine does not run: nothing at the ignition coil"}
				break
			}
			val.X, err = r.answer(where, o)
		}
		if err != nil {
			return nil, err
		}
		out = append(out, val)
	}
	return out, nil
}

// runsOn are the parts without whose volts an engine does not run: the coil of a
// petrol engine, the solenoid that holds a diesel's fuel on.
var runsOn = []string{"ignition-coil", "stop-solenoid"}

// Stalls says that the engine cannot run as the setup has it: what feeds the
// ignition coil is below half of the system's voltage. Without a battery in the
// circuit a machine either charges by itself or is dead, and a car is found dead.
// While the starter turns, the coil lead is off.
func (r *Run) Stalls(sys *system.System) bool {
	if !r.runs(sys) {
		return false
	}
	volts := map[string]float64{}
	for i, p := range sys.Points {
		volts[p.ID] = r.Volts[i]
	}
	for _, e := range sys.Elements {
		if slices.Contains(runsOn, e.Part) && e.Kind == system.Load {
			return math.Abs(volts[e.From]-volts[e.To]) < sys.Volts/2
		}
	}
	return false
}

// runs says whether the engine turns by itself: faster than any position turns
// it that closes the starter.
func (r *Run) runs(sys *system.System) bool {
	cranking := 0.0
	for _, p := range sys.Rig.Places {
		for _, pos := range p.Positions {
			for _, s := range pos.Sets {
				if s.Closed && pos.Engine > 0 {
					cranking = max(cranking, pos.Engine)
				}
			}
		}
	}
	return r.Engine > 1.5*cranking
}
