package main

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"chargewright/job"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
	"chargewright/truth"
	"chargewright/unit"
)

// visit is one job as it will be done: a complaint, and what stands in the boxes of
// each reading.
type visit struct {
	system, kind string
	volts        float64 // [V]
	readings     []typed
}

// typed is a reading as somebody types it.
type typed struct {
	procedure string
	boxes     []string
	looks     []bool // by box: it is a look, which is chosen
}

// vehicles draws hidden vehicles and asks them what a technician with a clamp
// asks, in that order: what can be read is written down as it would be typed.
func vehicles(ids []string, o options) ([]visit, error) {
	shelf, err := job.Library()
	if err != nil {
		return nil, err
	}
	jobs := o.technicians * (1 + int(o.lasts/o.every)/o.readings)
	var out []visit
	for i, id := range ids {
		sys, err := shelf.System(id)
		if err != nil {
			return nil, err
		}
		model, err := prediction.Compile(sys)
		if err != nil {
			return nil, err
		}
		rng := rand.New(rand.NewPCG(o.seed, uint64(i)))
		for n := i; n < jobs; n += len(ids) {
			v, err := oneVisit(rng, sys, model, shelf, o)
			if err != nil {
				return nil, err
			}
			out = append(out, v)
		}
	}
	rand.New(rand.NewPCG(o.seed, 99)).Shuffle(len(out), func(a, b int) { out[a], out[b] = out[b], out[a] })
	return out, nil
}

// mostLooks is how many readings of a job are looks: a technician's own order
// begins with a round of them, of which a run of minutes would see nothing else.
const mostLooks = 3

// kinds are the complaints that are drawn.
var kinds = []string{"no-charge", "low-charge", "flat-battery", "overcharge"}

func oneVisit(rng *rand.Rand, sys *system.System, model *prediction.Model, shelf job.Shelf, o options) (visit, error) {
	practice := shelf.PracticeOf(sys)
	hidden, err := truth.Draw(rng, model, practice, truth.DrawOptions{})
	if err != nil {
		return visit{}, err
	}
	v := visit{system: sys.ID, volts: sys.Volts, kind: kinds[rng.IntN(len(kinds))]}
	ask := truth.NewMeter(hidden.Table(model, truth.Looks{Procedures: shelf.Catalogue, Seed: rng.Uint64()}), rng.Uint64(), truth.Noise{})
	looks := 0
	for _, name := range slices.Concat(practice.Orders["clamp"].Steps, practice.Orders["fixed"].Steps) {
		p := shelf.Catalogue[name]
		if p == nil || len(v.readings) == o.readings || strings.HasPrefix(name, "bench-") || slices.ContainsFunc(v.readings, func(t typed) bool { return t.procedure == name }) {
			continue
		}
		if ok, _ := p.Applies(sys); !ok || p.Look != nil && looks == mostLooks {
			continue
		}
		if t, ok := readOff(ask, model, p); ok {
			v.readings = append(v.readings, t)
			if p.Look != nil {
				looks++
			}
		}
	}
	if len(v.readings) < o.readings {
		return v, fmt.Errorf("%s: only %d readings could be taken of a vehicle, %d are wanted: give -readings %d", sys.ID, len(v.readings), o.readings, len(v.readings))
	}
	rng.Shuffle(len(v.readings), func(a, b int) { v.readings[a], v.readings[b] = v.readings[b], v.readings[a] })
	return v, nil
}

// readOff takes one procedure off a vehicle; false when it does not come to
// something that can be typed.
func readOff(from truth.Answerer, model *prediction.Model, p *question.Procedure) (typed, bool) {
	t := typed{procedure: p.ID}
	q, err := truth.Question(model, p)
	if err != nil {
		return t, false
	}
	values, err := from.Answer(q)
	if err != nil {
		return t, false
	}
	for i, v := range values {
		dim, has := q.Seek[i].Dim()
		var text string
		switch {
		case v.How == question.Class:
			text = v.Class
		case v.How == question.Measured && has:
			text = strings.ReplaceAll(unit.Format(dim, v.X), "\u00a0", " ")
		default:
			return t, false
		}
		t.boxes, t.looks = append(t.boxes, text), append(t.looks, v.How == question.Class)
	}
	return t, true
}
