// Package testcar makes hidden vehicles and their readings for tests and the
// benchmark: faults and free figures drawn from a model's own prior, readings
// with the noise of their meters and some wrong ones. It knows nothing of
// diagnosis; it refuses a procedure that is not in the catalogue.
//
// Open testcar.go; linear.yaml is a car with closed-form answers.
package testcar

import (
	_ "embed"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

//go:embed linear.yaml
var linear []byte

// Car is a compiled system with all that a diagnosis of it needs.
type Car struct {
	Sys      *system.System
	Model    *prediction.Model
	Procs    question.Catalogue
	Practice *system.Practice
	Meters   map[string]meter.Instrument
}

// Library is a shipped system.
func Library(id string) (*Car, error) {
	sys, err := system.ByID(id)
	if err != nil {
		return nil, err
	}
	return compile(sys)
}

// Linear is the car with closed-form answers.
func Linear() (*Car, error) {
	sys, err := system.Parse("linear.yaml", linear)
	if err != nil {
		return nil, err
	}
	return compile(sys)
}

func compile(sys *system.System) (*Car, error) {
	c := &Car{Sys: sys, Meters: map[string]meter.Instrument{}}
	var err error
	if c.Model, err = prediction.Compile(sys); err != nil {
		return nil, err
	}
	if c.Procs, err = question.Library(); err != nil {
		return nil, err
	}
	if c.Practice, err = system.PracticeFor(sys.Arrangement); err != nil {
		return nil, err
	}
	for _, in := range meter.Catalogue() {
		c.Meters[in.ID] = in
	}
	return c, nil
}

// Rates are the shipped rates of the faults named, of all when none is.
func (c *Car) Rates(only ...string) map[string]float64 {
	out := map[string]float64{}
	if len(only) == 0 {
		for id, r := range c.Practice.Rates {
			out[id] = r.Rate
		}
	}
	for _, id := range only {
		out[id] = c.Practice.Rates[id].Rate
	}
	return out
}

// Fault is the index of a fault that the system has.
func (c *Car) Fault(id string) int {
	i, ok := c.Model.FaultIndex(id)
	if !ok {
		panic("testcar: no fault " + id)
	}
	return i
}

// Question is a procedure as it is asked on a day of 20 degC, places it does
// not name at rest.
func (c *Car) Question(id string) (question.Question, error) {
	p, ok := c.Procs[id]
	if !ok {
		return question.Question{}, fmt.Errorf("the catalogue has no procedure %q", id)
	}
	t, err := p.Target(c.Sys)
	if err != nil {
		return question.Question{}, err
	}
	s := question.Setup{Rig: Standing(&c.Sys.Rig, t), Hold: p.Hold}
	s.Engine = question.EngineSpeed(&c.Sys.Rig, s.Rig)
	return question.Question{Procedure: id, Setup: s, Seek: p.Seek()}, nil
}

// Standing is a target with every place it does not name at rest.
func Standing(r *rig.Rig, t rig.Target) rig.State {
	s := r.Rest
	for i := range r.Places {
		for k := range rig.MaxPositions {
			if t.Positions[i]>>k&1 == 1 {
				s = s.With(i, k)
				break
			}
		}
	}
	return s
}

// Truth is a hidden vehicle.
type Truth struct {
	Faults []int
	Comp   prediction.Component
	Z      []float64
}

// Draw draws a vehicle with these faults: every free figure from its prior, the
// magnitude of each fault from one of components equal normals.
func (c *Car) Draw(rng *rand.Rand, faults []int, components int) Truth {
	t := Truth{Faults: faults, Z: make([]float64, c.Model.Dims())}
	later := c.Model.LaterTerms()
	for i := range t.Z {
		if !slices.Contains(later, i) {
			t.Z[i] = rng.NormFloat64()
		}
	}
	stream := lateStream(t.Z[0])
	for _, i := range later {
		t.Z[i] = stream.NormFloat64()
	}
	for k, f := range faults {
		if m := c.Sys.Faults[f].Magnitude; m != nil {
			t.Comp.Mean[k], t.Comp.SD[k] = prediction.MagnitudeComponent(m, rng.IntN(components), components)
		}
	}
	return t
}

// lateStream draws what vehicles were drawn without once, so that a seed's vehicle stays
// what it was in all else; x is a number that it drew before.
func lateStream(x float64) *rand.Rand { return rand.New(rand.NewPCG(math.Float64bits(x), 1)) }

// Middling is a vehicle with every free figure at its median and the faults at
// the middle of their range.
func (c *Car) Middling(faults ...int) Truth {
	t := Truth{Faults: faults, Z: make([]float64, c.Model.Dims())}
	for k, f := range faults {
		if m := c.Sys.Faults[f].Magnitude; m != nil {
			t.Comp.Mean[k], t.Comp.SD[k] = prediction.MagnitudeComponent(m, 1, 3)
		}
	}
	return t
}

// Exact is what a question reads on a vehicle, without noise.
func (c *Car) Exact(w *prediction.Worker, t Truth, q question.Question) ([]float64, error) {
	a, err := c.Model.Ask(q)
	if err != nil {
		return nil, err
	}
	w.Begin()
	w.Hold(prediction.Hypothesis{Faults: t.Faults}, t.Comp, t.Z)
	if err := w.Solve(&a); err != nil {
		return nil, err
	}
	var out []float64
	for i := range a.Probes {
		out = append(out, w.Read(&a.Probes[i], nil))
	}
	return out, nil
}

// drifted is the vehicle as it is for one reading.
func (t Truth) drifted(m *prediction.Model, rng *rand.Rand) Truth {
	t.Z = slices.Clone(t.Z)
	var late *rand.Rand
	for _, d := range m.Drifts() {
		from := rng
		if slices.Contains(m.LaterTerms(), d.Coord) {
			if late == nil {
				late = lateStream(t.Z[0] + t.Z[m.Drifts()[0].Coord])
			}
			from = late
		}
		t.Z[d.Coord] += d.SD * from.NormFloat64()
	}
	return t
}

// Noise is the meter's standard uncertainty at a value.
type Noise func(o question.Observable, at float64) float64

// Measure takes a reading with a meter's noise. Every value carries the
// uncertainty that it was drawn with, so that what follows need not guess it
// from the reading. Each value is wrong with probability wrong, see slip.
func (c *Car) Measure(w *prediction.Worker, t Truth, q question.Question, noise Noise, rng *rand.Rand, wrong float64, box Noise) (question.Reading, error) {
	exact, err := c.Exact(w, t.drifted(c.Model, rng), q)
	if err != nil {
		return question.Reading{}, err
	}
	r := question.Reading{Question: q}
	k := 0
	for _, o := range q.Seek {
		if o.Kind == question.Look || o.Kind == question.Speed {
			r.Values = append(r.Values, question.Value{How: question.NotTaken})
			continue
		}
		s := noise(o, exact[k])
		v := question.Value{How: question.Measured, X: exact[k] + s*rng.NormFloat64(), U: s}
		if rng.Float64() < wrong {
			// What a meter cannot show is not written down.
			for v.X = slip(rng, exact[k], s, box(o, exact[k])); !c.shows(o, v.X); {
				v.X = slip(rng, exact[k], s, box(o, exact[k]))
			}
		}
		r.Values = append(r.Values, v)
		k++
	}
	return r, nil
}

// shows reports whether the meter that a question names can show a value.
func (c *Car) shows(o question.Observable, x float64) bool {
	in, ok := c.Meters[o.Meter]
	if !ok {
		return true
	}
	_, err := in.Range(string(o.Kind), x)
	return err == nil
}

// slip is a wrong value: half the time anywhere from 0 to box, otherwise one of
// four slips alike often: nothing, the point (ten, a hundred or a thousand times, or a
// tenth), a thousandth, the other sign. The shares are those the diagnosis believes
// in (memory, rough).
func slip(rng *rand.Rand, h, s, box float64) float64 {
	zero := max(s, 1e-3*box)
	switch rng.IntN(8) {
	case 0:
		return zero * rng.NormFloat64()
	case 1:
		return []float64{10, 100, 1000, 0.1}[rng.IntN(4)] * (h + s*rng.NormFloat64())
	case 2:
		return h/1000 + zero*rng.NormFloat64()
	case 3:
		return -h + s*rng.NormFloat64()
	}
	return rng.Float64() * box
}

// Seen draws what a look shows on a vehicle.
func (c *Car) Seen(t Truth, q question.Question, rng *rand.Rand) question.Reading {
	l := c.Procs[q.Procedure].Look
	p := l.Otherwise
	for _, f := range t.Faults {
		if given, ok := l.Given[c.Sys.Faults[f].ID]; ok {
			p = given
		}
	}
	u, k := rng.Float64(), 0
	for k < len(p)-1 && u > p[k] {
		u -= p[k]
		k++
	}
	return question.Reading{Question: q, Values: []question.Value{{How: question.Class, Class: l.Classes[k]}}}
}
