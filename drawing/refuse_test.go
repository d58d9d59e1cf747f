package drawing_test

import (
	"strings"
	"testing"

	"chargewright/advice"
	"chargewright/drawing"
)

func TestWidthRefused(t *testing.T) {
	sys := shipped(t)
	for _, w := range []int{0, -5, drawing.Narrowest - 1, drawing.Widest + 1} {
		if _, err := drawing.New(sys, w); err == nil || !strings.Contains(err.Error(), "cannot be read: choose from 320 to 2000 px") {
			t.Errorf("width %d: %v", w, err)
		}
		if _, err := drawing.CloseUp(sys, w); err == nil {
			t.Errorf("a close-up %d wide is taken", w)
		}
	}
}

// TestUnknownRefused: everything that the system does not have is named.
func TestUnknownRefused(t *testing.T) {
	sys := shipped(t)
	_, err := sheet(t, sys, drawing.Tablet).Draw(drawing.Options{
		Rig:    sys.Rig.Rest.With(0, 9),
		Leads:  []drawing.Lead{{Red: "stud", Black: "moon"}},
		Clamps: []drawing.Clamp{{Element: "rope"}},
		Now:    &drawing.Now{Place: "belt", To: "knotted"},
		Causes: []drawing.Cause{{Letter: "H", Faults: []string{"gremlin"}}},
	})
	if err == nil {
		t.Fatal("nothing is refused")
	}
	for _, want := range []string{`no point "moon"`, `no joint, wire or load "rope"`, `place belt has no position "knotted"`, `no fault "gremlin"`, "place brake has no position number 9"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("it does not say %s: %v", want, err)
		}
	}
}

// TestStep: the picture of a step stands before the line it is at, shows what is
// fitted there, and has the leads where they will go.
func TestStep(t *testing.T) {
	sys := shipped(t)
	step := advice.Step{
		FromRig: map[string]string{"brake": "held"},
		Hookup: []advice.Move{
			{Place: "clamp", From: "absent", To: "on"},
			{Place: "regulator-plug", From: "on", To: "off"},
			{Place: "field-jumper", From: "absent", To: "fitted"},
			{Place: "ignition", From: "off", To: "on"},
		},
		Body: advice.Body{Leads: []advice.Lead{
			{Kind: "amps", Through: &advice.Named{ID: "w-charge"}},
			{Kind: "volts", Red: &advice.Point{ID: "batp"}, Black: &advice.Point{ID: "batn"}},
			{Kind: "volts", Red: &advice.Point{ID: "f2"}, Black: &advice.Point{ID: "batn"}},
		}},
	}
	o, err := drawing.ForStep(sys, step, 2)
	if err != nil {
		t.Fatal(err)
	}
	if o.Now == nil || *o.Now != (drawing.Now{Place: "field-jumper", To: "fitted", Stage: 3}) {
		t.Errorf("now %+v", o.Now)
	}
	if len(o.Leads) != 2 || o.Leads[0].Red != "batp" || o.Leads[0].Box != 2 || o.Leads[1].Red != "f2" || o.Leads[1].Box != 3 || len(o.Clamps) != 1 || o.Clamps[0].Box != 1 {
		t.Errorf("leads %+v, clamps %+v", o.Leads, o.Clamps)
	}
	if want := at(t, sys, map[string]string{"brake": "held", "clamp": "on", "regulator-plug": "off"}); o.Rig != want {
		t.Errorf("rig %x, want %x", o.Rig, want)
	}
	sc, err := sheet(t, sys, drawing.Tablet).Draw(o)
	if err != nil {
		t.Fatal(err)
	}
	jumpers := 0
	for _, c := range sc.Cables {
		if c.Kind == "jumper" && c.Of == "g-jumper" {
			jumpers++
		}
	}
	if jumpers != 1 {
		t.Errorf("%d jumpers are drawn, want the one that is being fitted", jumpers)
	}
	if o, err = drawing.ForStep(sys, step, 4); err != nil || o.Now != nil || o.Leads[0].Red != "batp" {
		t.Errorf("at the reading: %+v, %v", o, err)
	}
	step.Hookup[0].To = "around"
	if _, err = drawing.ForStep(sys, step, 0); err == nil || !strings.Contains(err.Error(), `no position "around"`) {
		t.Errorf("a position that does not exist: %v", err)
	}
}

// TestEveryCauseSits: each fault of the library that can be named has a letter's
// place on the whole drawing.
func TestEveryCauseSits(t *testing.T) {
	sys := shipped(t)
	for _, f := range sys.Faults {
		if f.Outside || f.Pattern == "" && len(f.Changes) == 0 {
			continue
		}
		sc, err := sheet(t, sys, drawing.Tablet).Draw(drawing.Options{Rig: sys.Rig.Rest, Causes: []drawing.Cause{{Letter: "H", Faults: []string{f.ID}}}})
		if err != nil {
			t.Fatal(err)
		}
		if count(sc.Labels, drawing.Letter) != 1 {
			t.Errorf("fault %s has no place", f.ID)
		}
		for _, o := range offences(t, sc) {
			t.Errorf("%s: %s", f.ID, o)
		}
	}
}
