package planning_test

import (
	"testing"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
)

// TestScoresServe: scores of a belief hold where the vehicle stands otherwise or
// less may be done, not where more may be done or on another day.
func TestScoresServe(t *testing.T) {
	s := theShop(t)
	b, err := diagnosis.Begin(s.prior)
	if err != nil {
		t.Fatal(err)
	}
	was := planning.State{Belief: b, Rig: s.sys.Rig.Rest, Barred: map[string]bool{"drop-feed": true}}
	sc, err := planning.NewPlanner(s.board).Score(was)
	if err != nil {
		t.Fatal(err)
	}
	moved := was
	moved.Rig, moved.Moved = was.Rig.With(0, 1), true
	less := was
	less.Barred = map[string]bool{"drop-feed": true, "charge-volts": true}
	more := was
	more.Barred = map[string]bool{"drop-feed": false}
	cold := was
	cold.Setup = question.Setup{Ambient: question.Temp{K: 263, U: 2}}
	for name, x := range map[string]struct {
		s    planning.State
		want bool
	}{"the same": {was, true}, "moved": {moved, true}, "less": {less, true}, "more": {more, false}, "another day": {cold, false}} {
		if got := sc.Serve(x.s); got != x.want {
			t.Errorf("%s: %v, want %v", name, got, x.want)
		}
	}
}
