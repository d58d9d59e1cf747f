package question_test

import (
	"errors"
	"testing"

	"chargewright/problem"
	"chargewright/question"
	"chargewright/system"
)

func TestApplies(t *testing.T) {
	s := &system.System{ID: "one", Regulator: system.Regulator{Kind: "earth-side-electronic"}}
	for _, c := range []struct {
		name  string
		needs question.Needs
		want  bool
	}{
		{"needs nothing", question.Needs{}, true},
		{"by id", question.Needs{Arrangements: []string{"other", "one"}}, true},
		{"by regulator", question.Needs{Arrangements: []string{"earth-side-electronic"}}, true},
		{"another arrangement", question.Needs{Arrangements: []string{"other"}}, false},
		{"sealed battery", question.Needs{Serviceable: true}, false},
	} {
		p := &question.Procedure{ID: "p", Needs: c.needs}
		if got, why := p.Applies(s); got != c.want || got == (why != "") {
			t.Errorf("%s: applies %v, because %q", c.name, got, why)
		}
	}
}

// TestTargetNamesAll: every place and position that is not there is named.
func TestTargetNamesAll(t *testing.T) {
	p := &question.Procedure{ID: "p", Rig: []question.Demand{{Place: "moon", Positions: []string{"full"}}, {Place: "sun", Positions: []string{"up"}}}}
	_, err := p.Target(&system.System{ID: "one"})
	var list problem.List
	if !errors.As(err, &list) || len(list) != 2 {
		t.Errorf("refused with %v, want both places", err)
	}
}
