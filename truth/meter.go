package truth

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"chargewright/meter"
	"chargewright/question"
)

// Noise says how often readings go wrong.
type Noise struct {
	Slip     float64 // probability that a value is one of the technician's slips
	Look     float64 // probability that a look is entered as another class
	NotTaken float64 // probability that a value could not be taken
}

// Slip is a value that went wrong, for whoever checks that it was noticed.
type Slip struct {
	Procedure string
	Value     int // index into the question's Seek
	What      string
	True      float64
}

// Meter is somebody with instruments beside a vehicle: what it answers is what
// they would write down. What they write for a procedure hangs on the seed and
// on how often it was asked, not on what was asked before, so that two ways of
// working on one vehicle meet the same chances.
type Meter struct {
	From        Answerer
	Instruments map[string]meter.Instrument // by id
	Noise       Noise
	Seed        uint64
	Slips       []Slip // so far

	asked map[string]int
}

// usualMeter is what is taken where a question names no instrument.
var usualMeter = map[question.Kind]string{
	question.Volts: "dmm", question.ACVolts: "dmm", question.Ohms: "dmm", question.Amps: "dc-clamp",
	question.Density: "hydrometer", question.Speed: "tachometer",
}

// NewMeter returns somebody with the built-in instruments.
func NewMeter(from Answerer, seed uint64, n Noise) *Meter {
	m := &Meter{From: from, Instruments: map[string]meter.Instrument{}, Noise: n, Seed: seed, asked: map[string]int{}}
	for _, in := range meter.Catalogue() {
		m.Instruments[in.ID] = in
	}
	return m
}

// Answer implements Answerer.
func (m *Meter) Answer(q question.Question) ([]question.Value, error) {
	vals, err := m.From.Answer(q)
	if err != nil {
		return nil, err
	}
	key := q.Procedure
	if key == "" {
		key = fmt.Sprintf("%x %v %v", uint64(q.Setup.Rig), q.Setup.Hold, q.Seek)
	}
	rng := stream(m.Seed, "read "+key, m.asked[key])
	m.asked[key]++
	for i, o := range q.Seek {
		// All chances are drawn in any case, so that a probability that is
		// changed changes nothing else.
		missed, slipped := rng.Float64() < m.Noise.NotTaken, rng.Float64()
		var problem error
		switch {
		case missed:
			vals[i] = question.Value{How: question.NotTaken, Why: "could not get at it"}
		case vals[i].How == question.NotTaken: // the vehicle would not have it
		case o.Kind == question.Look:
			vals[i] = misjudge(rng, o.Classes, vals[i], slipped < m.Noise.Look)
		default:
			vals[i], problem = m.read(rng, q.Procedure, i, o, vals[i].X, slipped < m.Noise.Slip)
		}
		if problem != nil {
			return nil, problem
		}
	}
	return vals, nil
}

// read takes one value.
func (m *Meter) read(rng *rand.Rand, procedure string, i int, o question.Observable, x float64, slip bool) (question.Value, error) {
	id := o.Meter
	if id == "" {
		id = usualMeter[o.Kind]
	}
	in, ok := m.Instruments[id]
	if !ok {
		return question.Value{}, fmt.Errorf("truth: no instrument %q to read %s with: add it to the instruments", id, o.Kind)
	}
	val, err := Through(in, rng, o.Kind, x)
	if err != nil || !slip {
		return val, err
	}
	wrong, what := slipOf(in, rng, o.Kind, val)
	if what != "" {
		m.Slips = append(m.Slips, Slip{procedure, i, what, x})
	}
	return wrong, nil
}

// Through is a true value x as an instrument shows it: a normal error with the
// instrument's standard uncertainty, rounded to what is shown. The uncertainty
// of rounding itself is not drawn: rounding brings it. What is over the range
// reads Over.
func Through(in meter.Instrument, rng *rand.Rand, kind question.Kind, x float64) (question.Value, error) {
	chance := rng.NormFloat64()
	r, err := in.Range(string(kind), x)
	var over *meter.OverRange
	if errors.As(err, &over) {
		return question.Value{How: question.Over, Lo: over.Full}, nil
	}
	if err != nil {
		return question.Value{}, fmt.Errorf("truth: %w", err)
	}
	u := r.Standard(x)
	u = math.Sqrt(max(0, u*u-r.Resolution*r.Resolution/12))
	shown := math.Round((x+u*chance)/r.Resolution) * r.Resolution
	return question.Value{How: question.Measured, X: decimals(shown, 9)}, nil
}

// misjudge enters a look as another class.
func misjudge(rng *rand.Rand, classes []string, v question.Value, wrong bool) question.Value {
	k := rng.IntN(max(1, len(classes)-1))
	if !wrong || len(classes) < 2 {
		return v
	}
	for i, c := range classes {
		if c == v.Class {
			v.Class = classes[(i+1+k)%len(classes)]
			return v
		}
	}
	return v
}

// Sizes of slips that are not a factor (memory).
const (
	driftOfFull = 0.005 // of a clamp's largest range, one standard deviation: 2 A of 400 A
	misread     = 0.05  // of a hydrometer: the wrong line of the scale
	leadOhms    = 0.4   // test leads not taken off [Ohm]
)

// slipOf is one of the slips that a technician makes with an instrument, each as
// likely as the next (memory: the list; invented: their shares). An empty word
// means that there is none for the kind.
func slipOf(in meter.Instrument, rng *rand.Rand, kind question.Kind, v question.Value) (question.Value, string) {
	type fall struct {
		what string
		to   func(float64) float64
	}
	times := func(k float64) func(float64) float64 { return func(x float64) float64 { return k * x } }
	tenfold := fall{"decimal point slipped", times(10)}
	if rng.IntN(2) == 0 {
		tenfold.to = times(0.1)
	}
	drift := rng.NormFloat64()
	var falls []fall
	switch kind {
	case question.Volts:
		falls = []fall{{"probe not touching", times(0)}, {"leads the wrong way round", times(-1)}, tenfold, {"millivolts taken for volts", times(1000)}}
	case question.ACVolts:
		falls = []fall{{"probe not touching", times(0)}, tenfold, {"millivolts taken for volts", times(1000)}}
	case question.Amps:
		if in.SeriesOhms > 0 {
			falls = []fall{{"fuse of the ammeter open", times(0)}, {"leads the wrong way round", times(-1)}, tenfold}
			break
		}
		zero := drift * driftOfFull * largest(in, kind)
		falls = []fall{{"clamp not zeroed", func(x float64) float64 { return x + zero }}, {"clamp the wrong way round", times(-1)}, {"clamp round nothing", times(0)}}
	case question.Ohms:
		if rng.IntN(3) == 0 {
			return question.Value{How: question.Over, Lo: largest(in, kind)}, "probe not touching"
		}
		falls = []fall{{"leads not taken off", func(x float64) float64 { return x + leadOhms }}, {"kilohms taken for ohms", times(1000)}}
	case question.Density:
		falls = []fall{{"wrong line of the scale", func(x float64) float64 { return x + math.Copysign(misread, drift) }}}
	}
	if v.How != question.Measured || len(falls) == 0 {
		return v, ""
	}
	f := falls[rng.IntN(len(falls))]
	v.X = decimals(f.to(v.X), 9)
	return v, f.what
}

// largest is the end of an instrument's largest range of a kind.
func largest(in meter.Instrument, kind question.Kind) float64 {
	full := 0.0
	for _, r := range in.Ranges {
		if r.Kind == string(kind) {
			full = max(full, r.Full)
		}
	}
	return full
}
