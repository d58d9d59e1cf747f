package main

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"

	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/truth"
	"chargewright/unit"
)

// ambient of every story [K]: 20 degC, as its file says.
const ambient = unit.ZeroCelsius + 20

// vehicle puts a story's hidden vehicle on paper. Its figures are drawn from the
// story's seed, how bad the fault is stands in the story.
func (w *world) vehicle(s story) (truth.Recorded, error) {
	var faults []int
	for _, x := range s.Faults {
		i, ok := w.model.FaultIndex(x.ID)
		if !ok {
			return truth.Recorded{}, fmt.Errorf("%s: no fault is called %s", s.File, x.ID)
		}
		faults = append(faults, i)
	}
	rng := rand.New(rand.NewPCG(s.Seed, 1))
	v := truth.Vehicle{Name: s.File, Fault: prediction.Hypothesis{Faults: faults}, Z: make([]float64, w.model.Dims())}
	for i := range w.model.Coords {
		v.Z[i] = 0.7 * rng.NormFloat64()
	}
	for i, c := range w.model.Coords {
		if z, ok := s.Figures[c.ID]; ok {
			v.Z[i] = z
		}
	}
	for k, x := range s.Faults {
		if x.Magnitude > 0 {
			v.Comp.Mean[k] = math.Log10(x.Magnitude)
		}
	}
	return truth.Record(w.model, v), nil
}

// runs simulates a recorded vehicle in every setup of its story.
func (w *world) runs(rec *truth.Recorded, s story, o truth.Options, simulate func(string) ([]byte, error)) error {
	v, err := rec.Vehicle(w.model)
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, id := range s.Procedures {
		q, err := w.question(id)
		if err != nil {
			return err
		}
		if !live(q) {
			continue
		}
		n, err := v.Write(w.model, q.Setup, o, 0)
		if err != nil {
			return err
		}
		if seen[n.Standing] {
			continue
		}
		seen[n.Standing] = true
		run, err := v.Simulate(w.model, q.Setup, o, simulate)
		if err != nil {
			return err
		}
		if n, err = v.Write(w.model, q.Setup, o, run.Settle); err != nil {
			return err
		}
		rec.Put(n, run, "")
	}
	return nil
}

// live says whether a question takes a run.
func live(q question.Question) bool {
	for _, o := range q.Seek {
		switch o.Kind {
		case question.Volts, question.Amps, question.ACVolts:
			return true
		}
	}
	return false
}

func (w *world) question(id string) (question.Question, error) {
	p := w.procedures[id]
	if p == nil {
		return question.Question{}, fmt.Errorf("no procedure is called %s", id)
	}
	q, err := truth.Question(w.model, p)
	q.Setup.Ambient = question.Temp{K: ambient, U: 2}
	return q, err
}

// render is the job file of story k, its meters read with the noise of a seed.
func (w *world) render(runs []byte, k int, s story, seed uint64) (string, error) {
	f, err := truth.ParseFixture(runs)
	if err != nil {
		return "", err
	}
	if k >= len(f.Vehicles) || f.Vehicles[k].Name != s.File {
		return "", fmt.Errorf("its runs are not stored: go run ./internal/examplegen -simulate")
	}
	hidden, err := f.Stored(w.model, k)
	if err != nil {
		return "", err
	}
	hidden.Looks = truth.Looks{Procedures: w.procedures, Seed: s.Seed}
	var b strings.Builder
	for _, line := range strings.Split(strings.TrimSpace(s.Story), "\n") {
		b.WriteString(strings.TrimRight("# "+strings.TrimSpace(line), " ") + "\n")
	}
	fmt.Fprintf(&b, "format: 1\nid: %s\nsystem: %s\nvehicle: {volts: %g V}\n", s.File, w.model.Sys.ID, w.model.Sys.Volts)
	fmt.Fprintf(&b, "complaint: {kind: %s, words: %q}\n", s.Complaint, s.Words)
	fmt.Fprintf(&b, "conditions: {ambient: 20 degC}\nmeters: [%s]\nlog:\n", strings.Join(s.Meters, ", "))
	for n, id := range s.Procedures {
		q, err := w.question(id)
		if err != nil {
			return "", err
		}
		values, err := hidden.Answer(q)
		if err != nil {
			return "", err
		}
		rng := rand.New(rand.NewPCG(seed, uint64(100+n)))
		var cells []string
		for i, v := range values {
			cell, err := written(q.Seek[i], v, rng)
			if err != nil {
				return "", err
			}
			cells = append(cells, cell)
		}
		line := cells[0]
		if len(cells) > 1 {
			line = "[" + strings.Join(cells, ", ") + "]"
		}
		fmt.Fprintf(&b, "  - %s: %s\n", id, line)
	}
	return b.String(), nil
}

// written is a value as the meter shows it: its standard uncertainty as noise,
// then its resolution.
func written(o question.Observable, v question.Value, rng *rand.Rand) (string, error) {
	if v.How == question.Class {
		if strings.ContainsAny(v.Class, ",:") {
			return strconv.Quote(v.Class), nil
		}
		return v.Class, nil
	}
	in, ok := meter.Find(o.Meter)
	if !ok {
		return "", fmt.Errorf("no meter is called %s", o.Meter)
	}
	dim, _ := o.Dim()
	u, _, _, err := in.Standard(string(o.Kind), v.X)
	if over := (*meter.OverRange)(nil); errors.As(err, &over) {
		return "over " + unit.Format(dim, over.Full), nil
	}
	if err != nil {
		return "", err
	}
	shown := v.X + u*rng.NormFloat64()
	_, res, _, err := in.Standard(string(o.Kind), shown)
	if err != nil {
		return "", err
	}
	places := max(0, int(math.Round(-math.Log10(res))))
	text := strconv.FormatFloat(math.Round(shown/res)*res, 'f', places, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	if dim == unit.One {
		return strconv.Quote(text), nil
	}
	return text + " " + map[unit.Dim]string{unit.Volt: "V", unit.Amp: "A", unit.Ohm: "Ohm"}[dim], nil
}
