package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"

	"chargewright/diagnosis"
	"chargewright/question"
)

// recorded is one update as it was: what was read and what came out.
type recorded struct {
	Case    int
	Reading question.Reading
	Shares  map[string]float64 // by what would be repaired
	Work    diagnosis.Work
}

// record writes updates, one a line, so that a later version can be held
// against this one on the very same readings.
type record struct {
	to   *json.Encoder
	file *os.File
}

func newRecord(path string) (*record, error) {
	if path == "" {
		return &record{}, nil
	}
	f, err := os.Create(path)
	if err != nil {
		return nil, err
	}
	return &record{json.NewEncoder(f), f}, nil
}

func (r *record) add(number int, reading question.Reading, b *diagnosis.Belief) error {
	if r.to == nil {
		return nil
	}
	return r.to.Encode(recorded{number, reading, sharesOf(b), b.Work})
}

func (r *record) close() error {
	if r.file == nil {
		return nil
	}
	return r.file.Close()
}

// sharesOf adds up the hypotheses that have the same repairs.
func sharesOf(b *diagnosis.Belief) map[string]float64 {
	out := map[string]float64{"none of these": b.None()}
	faults := b.Model().Sys.Faults
	for i, h := range b.Hyps {
		var cures []string
		for _, f := range h.Faults {
			cures = append(cures, faults[f].Repair)
		}
		slices.Sort(cures)
		out[strings.Join(slices.Compact(cures), " and ")] += b.Posterior(i)
	}
	for k, v := range out {
		if v < 1e-6 {
			delete(out, k)
		}
	}
	return out
}

// difference is the total variation of two sets of shares.
func difference(x, y map[string]float64) float64 {
	sum := 0.0
	for k, v := range x {
		sum += math.Abs(v - y[k])
	}
	for k, v := range y {
		if _, ok := x[k]; !ok {
			sum += v
		}
	}
	return sum / 2
}

// again makes the updates of a record anew and holds their shares and their
// work against what stands there.
func (w *world) again(out io.Writer, path, anew string) error {
	kept, err := newRecord(anew)
	if err != nil {
		return err
	}
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("again needs -record FILE, as `-only speed -record FILE` writes it: %w", err)
	}
	defer func() { _ = f.Close() }()
	var apart []float64
	var was, is []diagnosis.Work
	var worst []string
	at, b := -1, diagnosis.Belief{}
	for d := json.NewDecoder(f); d.More(); {
		var r recorded
		if err := d.Decode(&r); err != nil {
			return err
		}
		if r.Case != at {
			if b, err = diagnosis.Begin(w.prior); err != nil {
				return err
			}
			at = r.Case
		}
		if b, err = b.With(r.Reading); err != nil {
			return err
		}
		if err := kept.add(r.Case, r.Reading, &b); err != nil {
			return err
		}
		was, is = append(was, r.Work), append(is, b.Work)
		tv := difference(r.Shares, sharesOf(&b))
		apart = append(apart, tv)
		if tv > 0.01 {
			worst = append(worst, fmt.Sprintf("vehicle %d, %s: %.3f", r.Case, r.Reading.Question.Procedure, tv))
		}
	}
	if err := kept.close(); err != nil {
		return err
	}
	return sayAgain(out, apart, worst, was, is)
}

// sum adds up the work of updates; solves are those of one at three quantiles.
func sum(all []diagnosis.Work) (total diagnosis.Work, solves [3]float64) {
	var of []float64
	for _, w := range all {
		total.Add(w)
		of = append(of, float64(w.Solves))
	}
	slices.Sort(of)
	return total, [3]float64{quantileOf(of, 0.5), quantileOf(of, 0.9), quantileOf(of, 0.95)}
}

func sayAgain(out io.Writer, apart []float64, worst []string, was, is []diagnosis.Work) error {
	if len(apart) == 0 {
		return fmt.Errorf("the record holds no update")
	}
	slices.Sort(apart)
	fmt.Fprintf(out, "| %d updates | fits | solves | evaluations | screens | Newton iterations | solves of one: median, 90 %%, 95 %% |\n|---|---|---|---|---|---|---|\n", len(apart))
	for _, r := range []struct {
		name string
		all  []diagnosis.Work
	}{{"recorded", was}, {"now", is}} {
		w, one := sum(r.all)
		fmt.Fprintf(out, "| %s | %d | %d | %d | %d | %d | %.0f, %.0f, %.0f |\n",
			r.name, w.Fits, w.Solves, w.Evaluations, w.Screens, w.Newton, one[0], one[1], one[2])
	}
	fmt.Fprintf(out, "\nShares by repair, total variation against the record: median %.1e, 95 %% %.1e, most %.1e.\n",
		quantileOf(apart, 0.5), quantileOf(apart, 0.95), apart[len(apart)-1])
	for _, l := range worst {
		fmt.Fprintln(out, "-", l)
	}
	return nil
}
