package main

import (
	"fmt"
	"io"
	"slices"
	"time"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
)

// speed plays 30 jobs one after the other and times every update and every next
// step, with the work that each took.
func (w *world) speed(out io.Writer, path string) error {
	kept, err := newRecord(path)
	if err != nil {
		return err
	}
	cases, err := w.cases(30, 77)
	if err != nil {
		return err
	}
	var next, update []float64
	var fits, solves, steps int
	p := planning.NewPlanner(w.board)
	for i, c := range cases {
		b, err := diagnosis.Begin(w.prior)
		if err != nil {
			return err
		}
		st := planning.State{Belief: b, Rig: w.sys.Rig.Rest, Done: map[string]int{}, Barred: w.barred()}
		var o outcome
		for range 10 {
			t := time.Now()
			plan, err := p.Next(st)
			if err != nil {
				return err
			}
			if o.readings > 0 {
				next = append(next, ms(t))
			}
			if plan.Stop != nil || plan.Next[0].Procedure == nil {
				break
			}
			s := plan.Next[0]
			values, err := w.answer(c, s.Question, 0, st.Done[s.Procedure.ID])
			if err != nil {
				return err
			}
			o.readings++
			r := question.Reading{ID: fmt.Sprint("r", o.readings), Question: s.Question, Values: values}
			t = time.Now()
			nb, err := st.Belief.With(r)
			if err != nil {
				return err
			}
			update = append(update, ms(t))
			if err := kept.add(i, r, &nb); err != nil {
				return err
			}
			fits += nb.Work.Fits
			solves += nb.Work.Solves
			steps++
			st.Belief, st.Rig, st.Moved = nb, s.To, true
			st.Done[s.Procedure.ID]++
		}
	}
	if err := kept.close(); err != nil {
		return err
	}
	fmt.Fprintln(out, "| what | p50 ms | p95 ms | max ms | bar p95 |\n|---|---|---|---|---|")
	for _, r := range []struct {
		name string
		v    []float64
		bar  string
	}{{"update by one reading", update, "40"}, {"next step after a reading", next, "100"}} {
		slices.Sort(r.v)
		fmt.Fprintf(out, "| %s | %.1f | %.1f | %.1f | %s |\n", r.name, quantileOf(r.v, 0.5), quantileOf(r.v, 0.95), r.v[len(r.v)-1], r.bar)
	}
	fmt.Fprintf(out, "\n%d updates: %.0f fits and %.0f network solves each. Network: %d unknowns, %d floating-point operations for one elimination and solve (length of the compiled program).\n",
		steps, float64(fits)/float64(steps), float64(solves)/float64(steps), w.model.Unknowns(), w.model.Flops())
	return nil
}

func ms(t time.Time) float64 { return float64(time.Since(t).Microseconds()) / 1000 }
