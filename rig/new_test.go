package rig

import (
	"math"
	"strings"
	"testing"
)

func twoPlaces() ([]Place, []Never) {
	return []Place{
		{ID: "engine", Role: "engine", Positions: []Position{{ID: "off"}, {ID: "idle", Engine: 70}}, Moves: []Move{
			{From: 0, To: 1, Minutes: 1, Say: "start"}, {From: 1, To: 0, Minutes: 1, Say: "stop"},
		}},
		{ID: "cable", Positions: []Position{{ID: "on"}, {ID: "off", Sets: []Set{{Element: "j", Open: true}}}}, Moves: []Move{
			{From: 0, To: 1, Minutes: 1, Say: "off", Needs: []Cond{{Place: 0, Positions: []int{0}, Rule: "R5", Why: "stopped"}}},
		}},
	}, []Never{
		{When: []Cond{{Place: 0, Positions: []int{1}}, {Place: 1, Positions: []int{1}}}, Rule: "R5", Why: "never off"},
	}
}

// TestNewRefuses spoils a sound description in one way at a time; all the ways
// together must all be reported together.
func TestNewRefuses(t *testing.T) {
	if p, n := twoPlaces(); len(p) > 0 {
		if _, err := New(p, n, 0); err != nil {
			t.Fatalf("the sound one: %v", err)
		}
	}
	for _, c := range []struct {
		spoil func(p []Place, n []Never)
		says  string
	}{
		{func(p []Place, _ []Never) { p[1].ID = "engine" }, "given twice"},
		{func(p []Place, _ []Never) { p[0].ID = "" }, "no id"},
		{func(p []Place, _ []Never) { p[0].Positions = nil }, "0 positions"},
		{func(p []Place, _ []Never) { p[0].Positions[1].ID = "off" }, "empty or given twice"},
		{func(p []Place, _ []Never) { p[0].Positions[1].Engine = math.NaN() }, "engine speed"},
		{func(p []Place, _ []Never) { p[1].Positions[1].Sets[0].Add = 1 }, "give one of"},
		{func(p []Place, _ []Never) { p[0].Moves[0].To = 5 }, "two different positions"},
		{func(p []Place, _ []Never) { p[0].Moves[1] = p[0].Moves[0] }, "two moves"},
		{func(p []Place, _ []Never) { p[0].Moves[0].Minutes = 0 }, "takes 0 minutes"},
		{func(p []Place, _ []Never) { p[0].Moves[0].Elapsed = 0.5 }, "elapsed 0.5"},
		{func(p []Place, _ []Never) { p[0].Moves[0].Say = "" }, "no line"},
		{func(p []Place, _ []Never) { p[1].Moves[0].Needs[0].Rule = "" }, "without rule"},
		{func(p []Place, _ []Never) { p[1].Moves[0].Needs[0].Place = 1 }, "moving place itself"},
		{func(p []Place, _ []Never) { p[1].Moves[0].Needs[0].Place = 9 }, "place number 9"},
		{func(p []Place, _ []Never) { p[1].Moves[0].Needs[0].Positions = []int{0, 1} }, "none or all"},
		{func(p []Place, _ []Never) { p[1].Moves[0].Needs[0].Positions = []int{7} }, "position 7"},
		{func(_ []Place, n []Never) { n[0].Why = "" }, "no words"},
		{func(_ []Place, n []Never) { n[0].When = nil }, "forbids everything"},
	} {
		p, n := twoPlaces()
		c.spoil(p, n)
		if _, err := New(p, n, 0); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("got %v; must say %q", err, c.says)
		}
	}
	p, n := twoPlaces()
	p[0].Moves[0].Say, p[1].Moves[0].Minutes = "", -1
	if _, err := New(p, n, 0); err == nil || strings.Count(err.Error(), "\n") != 1 {
		t.Errorf("two problems must be told together: %v", err)
	}
}

func TestNewRefusesRest(t *testing.T) {
	for _, c := range []struct {
		rest State
		says string
	}{
		{State(0).With(0, 1).With(1, 1), "rolls in against R5"},
		{State(0).With(0, 3), "rests in position 3"},
		{State(0).With(5, 1), "more than 2 places"},
	} {
		p, n := twoPlaces()
		if _, err := New(p, n, c.rest); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("got %v; must say %q", err, c.says)
		}
	}
	if _, err := New(nil, nil, 0); err == nil {
		t.Error("no places at all were accepted")
	}
}

// TestWrittenDownRig: a Rig that New did not make gives the same answers.
func TestWrittenDownRig(t *testing.T) {
	p, n := twoPlaces()
	r := &Rig{Places: p, Never: n}
	want, err := r.Target(map[string]string{"cable": "off"})
	if err != nil {
		t.Fatal(err)
	}
	// closed form: stop (1) and take the cable off (1)
	plan, err := r.Path(r.Rest.With(0, 1), want)
	if err != nil || plan.Minutes != 2 || len(plan.Steps) != 2 {
		t.Errorf("got %+v, %v; want 2 steps, 2 min", plan, err)
	}
}
