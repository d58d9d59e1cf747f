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

// pace is what the jobs of a speed run took.
type pace struct {
	next, update []float64        // [ms]
	work, ahead  []diagnosis.Work // of updates, of next steps
	kept         *record
}

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
	all := pace{kept: kept}
	p := planning.NewPlanner(w.board)
	for i, c := range cases {
		if err := w.paced(p, i, c, &all); err != nil {
			return err
		}
	}
	if err := kept.close(); err != nil {
		return err
	}
	all.say(out, w)
	return nil
}

// paced plays up to ten readings of a job against the clock.
func (w *world) paced(p *planning.Planner, number int, c *hiddenCase, all *pace) error {
	b, err := diagnosis.Begin(w.prior)
	if err != nil {
		return err
	}
	st := planning.State{Belief: b, Rig: w.sys.Rig.Rest, Done: map[string]int{}, Barred: w.barred()}
	for reading := range 10 {
		t := time.Now()
		scores, err := p.Score(st)
		if err != nil {
			return err
		}
		plan := p.Rank(st, scores)
		if reading > 0 {
			all.next = append(all.next, ms(t))
			all.ahead = append(all.ahead, scores.Spent)
		}
		if plan.Stop != nil || plan.Next[0].Procedure == nil {
			return nil
		}
		s := plan.Next[0]
		values, err := w.answer(c, s.Question, 0, st.Done[s.Procedure.ID])
		if err != nil {
			return err
		}
		r := question.Reading{ID: fmt.Sprint("r", reading+1), Question: s.Question, Values: values}
		t = time.Now()
		nb, err := st.Belief.With(r)
		if err != nil {
			return err
		}
		all.update = append(all.update, ms(t))
		all.work = append(all.work, nb.Work)
		if err := all.kept.add(number, r, &nb); err != nil {
			return err
		}
		st.Belief, st.Rig, st.Moved = nb, s.To, true
		st.Done[s.Procedure.ID]++
	}
	return nil
}

func (a *pace) say(out io.Writer, w *world) {
	fmt.Fprintln(out, "| what | p50 ms | p95 ms | max ms | bar p95 |\n|---|---|---|---|---|")
	for _, r := range []struct {
		name string
		v    []float64
		bar  string
	}{{"update by one reading", a.update, "40"}, {"next step after a reading", a.next, "100"}} {
		slices.Sort(r.v)
		fmt.Fprintf(out, "| %s | %.1f | %.1f | %.1f | %s |\n", r.name, quantileOf(r.v, 0.5), quantileOf(r.v, 0.95), r.v[len(r.v)-1], r.bar)
	}
	n := float64(len(a.work))
	total, one := sum(a.work)
	fmt.Fprintf(out, "\n%.0f updates: %.0f fits, %.0f network solves and %.0f Newton iterations each (solves: median %.0f, 95 %% %.0f). Network: %d unknowns, %d floating-point operations for one elimination and solve (length of the compiled program).\n",
		n, float64(total.Fits)/n, float64(total.Solves)/n, float64(total.Newton)/n, one[0], one[2], w.model.Unknowns(), w.model.Flops())
	n = float64(len(a.ahead))
	total, one = sum(a.ahead)
	fmt.Fprintf(out, "%.0f next steps: %.0f network solves and %.0f Newton iterations each (solves: median %.0f, 95 %% %.0f).\n",
		n, float64(total.Solves)/n, float64(total.Newton)/n, one[0], one[2])
}

func ms(t time.Time) float64 { return float64(time.Since(t).Microseconds()) / 1000 }
