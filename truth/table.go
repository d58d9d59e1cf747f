package truth

import (
	"fmt"
	"slices"

	"chargewright/prediction"
	"chargewright/question"
)

// Table is a hidden vehicle made of the product's own model. It answers exactly,
// as a perfect meter would; it is not safe for several goroutines.
type Table struct {
	Vehicle Vehicle
	Looks   Looks
	Drift   []float64 // how far each thing that drifts stands off for the next answers, standard deviations; nil = nothing does
	model   *prediction.Model
	worker  *prediction.Worker
}

// NewTable returns a vehicle with a hypothesis and its figures. z must be Dims
// long. Looks are refused until Looks has a catalogue.
func NewTable(m *prediction.Model, h prediction.Hypothesis, comp prediction.Component, z []float64) *Table {
	return &Table{Vehicle: Vehicle{Fault: h, Comp: comp, Z: z}, model: m, worker: m.NewWorker()}
}

// Table returns the vehicle as one of the product's own model.
func (v Vehicle) Table(m *prediction.Model, l Looks) *Table {
	t := NewTable(m, v.Fault, v.Comp, v.Z)
	t.Vehicle, t.Looks = v, l
	return t
}

// Answer implements Answerer.
func (t *Table) Answer(q question.Question) ([]question.Value, error) {
	// A setup that names a rig but no speed means the rig's own.
	q.Setup.Engine = speed(t.model.Sys, q.Setup)
	asked, err := t.model.Ask(q)
	if err != nil {
		return nil, err
	}
	solved := false
	out := make([]question.Value, 0, len(q.Seek))
	probe := 0
	for _, o := range q.Seek {
		val, done, err := others(t.model.Sys, &t.Vehicle, t.Looks, q, o)
		if err != nil {
			return nil, err
		}
		if done {
			out = append(out, val)
			continue
		}
		if !solved {
			t.worker.Begin()
			t.worker.Hold(t.Vehicle.Fault, t.Vehicle.Comp, t.drifted())
			if err := t.worker.Solve(&asked); err != nil {
				return nil, fmt.Errorf("truth: %s, %s: %w", t.Vehicle.Name, standing(t.model.Sys, q.Setup), err)
			}
			solved = true
		}
		out = append(out, question.Value{How: question.Measured, X: t.worker.Read(&asked.Probes[probe], nil)})
		probe++
	}
	return out, nil
}

// drifted is the vehicle's z with what drifts from reading to reading moved.
func (t *Table) drifted() []float64 {
	if t.Drift == nil {
		return t.Vehicle.Z
	}
	z := slices.Clone(t.Vehicle.Z)
	for k, d := range t.model.Drifts() {
		if k < len(t.Drift) {
			z[d.Coord] += d.SD * t.Drift[k]
		}
	}
	return z
}
