package planning_test

import (
	"slices"
	"testing"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
)

// TestSurelyWrongIsRepeatedFirst: as long as a reading is nearly certainly wrong, its
// repeat is the first next step, whatever else would say more or is due; once it was
// repeated it is not asked for again.
func TestSurelyWrongIsRepeatedFirst(t *testing.T) {
	s := theShop(t)
	const rest, charge = "battery-rest-volts", "charge-volts"
	ask := func(id string) question.Question {
		i := slices.IndexFunc(s.board.Procs, func(p *question.Procedure) bool { return p.ID == id })
		return s.board.Question(i, question.Setup{})
	}
	p := planning.NewPlanner(s.board)
	for _, typed := range []float64{-12.21, 123, 1221} {
		b, err := diagnosis.Begin(s.prior)
		if err != nil {
			t.Fatal(err)
		}
		st := planning.State{Belief: b, Rig: s.sys.Rig.Rest, Done: map[string]int{}, Barred: map[string]bool{}}
		take := func(id string, x ...float64) {
			t.Helper()
			r := question.Reading{ID: id, Question: ask(id)}
			for _, x := range x {
				r.Values = append(r.Values, question.Value{How: question.Measured, X: x})
			}
			if st.Belief, err = st.Belief.With(r); err != nil {
				t.Fatal(err)
			}
			st.Done[id]++
		}
		first := func() planning.Step {
			t.Helper()
			plan, err := p.Next(st)
			if err != nil {
				t.Fatal(err)
			}
			if plan.Stop != nil && plan.Stop.Do != plan.Next[0].Do {
				t.Errorf("it stops with %s and begins with %s", plan.Stop.Do, plan.Next[0].Do)
			}
			return plan.Next[0]
		}
		take(rest, typed)
		take(charge, 12.13, 0)
		if n := first(); n.Do != planning.Repeat || n.Procedure.ID != rest {
			t.Errorf("%g V at rest: the first step is %s %v", typed, n.Do, n.Procedure)
		}
		take(rest, 12.21)
		if n := first(); n.Do == planning.Repeat {
			t.Errorf("%g V at rest was repeated and is asked for once more", typed)
		}
	}
}
