package job_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"chargewright/identify"
	"chargewright/job"
	"chargewright/system"
)

func looks(t *testing.T) *identify.Catalogue {
	t.Helper()
	lib, err := identify.Library()
	if err != nil {
		t.Fatal(err)
	}
	return lib
}

// TestIdentifiedInAFile: what was seen is weighed as identify weighs it, and
// stands in the event in words.
func TestIdentifiedInAFile(t *testing.T) {
	j := read(t, "log:\n  - identified: {terminals: two-blades, regulator: sealed}\n  - battery-rest-volts: 12.4 V\n")
	b := j.Identified
	if b == nil || b.System != "isolated-earth-side" || b.Other != nil || len(b.Looks) != 2 || b.Looks[0].Say != "two field blades, each with its own wire" {
		t.Fatalf("%+v", b)
	}
	of, known := looks(t).Weigh(map[string]string{"terminals": "two-blades", "regulator": "sealed"}).Of("isolated-earth-side")
	if !known {
		t.Fatal("the catalogue has no such pair")
	}
	// program: package identify; the event rounds to the fourth place.
	if d := b.Probability - of.Probability; d > 5.1e-5 || d < -5.1e-5 {
		t.Errorf("it is said to be %g likely, want %g", b.Probability, of.Probability)
	}
	if title := b.Title(); !strings.HasPrefix(title, "Identified by 2 looks: ") || !strings.Contains(title, of.Name()) {
		t.Errorf("it is titled %q", title)
	}
	if len(j.Readings) != 1 || j.Entries[0].Kind != job.Identified {
		t.Errorf("%+v", j.Entries)
	}
}

// TestIdentifiedAgainstTheLooks: whoever chose otherwise than the looks say is told
// so in the event, by how much; a system that is no pair of the catalogue has no
// share, and one made from a shipped one has that of its arrangement.
func TestIdentifiedAgainstTheLooks(t *testing.T) {
	s := shelf(t)
	seen := map[string]string{"terminals": "one-blade", "regulator": "contacts"}
	for _, c := range []struct {
		system, id, arrangement string
		share, other            bool
	}{
		{"supply-side-contact", "", "", true, false},
		{"isolated-earth-side", "", "", true, true},
		{"supply-side-contact", "my-van", "supply-side-contact", true, false},
		{"supply-side-contact", "my-van", "my-van", false, true},
	} {
		sys, err := s.System(c.system)
		if err != nil {
			t.Fatal(err)
		}
		own := *sys
		if c.id != "" {
			own.ID, own.Arrangement = c.id, c.arrangement
		}
		b, err := job.IdentifiedBy(looks(t), &own, seen)
		if err != nil {
			t.Fatal(err)
		}
		if (b.Probability > 0) != c.share || (b.Other != nil) != c.other || b.System != own.ID {
			t.Errorf("%+v: %+v", c, b)
		}
		if c.other && !strings.Contains(b.Says(), "speaks more for: field earthed inside") {
			t.Errorf("%+v: it says %q", c, b.Says())
		}
	}
	if _, err := job.IdentifiedBy(looks(t), &system.System{}, map[string]string{"moon": "full"}); err == nil {
		t.Error("a look that is none is taken")
	}
}

// TestIdentifiedRepeats: the same looks give the same bytes, as a form that is sent
// twice must.
func TestIdentifiedRepeats(t *testing.T) {
	sys, err := shelf(t).System("lamp-excited")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]string{"machine": "alternator", "terminals": "lamp-stud", "regulator": "inside"}
	var first []byte
	for range 50 {
		b, err := job.IdentifiedBy(looks(t), sys, seen)
		if err != nil {
			t.Fatal(err)
		}
		data, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = data
		}
		if string(data) != string(first) {
			t.Fatalf("%s and %s", first, data)
		}
	}
}

// TestIdentifiedRefuses: the arrangement of a job does not change, and an event
// that says nothing is none.
func TestIdentifiedRefuses(t *testing.T) {
	s := shelf(t)
	look := []job.LookBody{{Look: "regulator", Answer: "sealed", Ask: "Where?", Say: "in a box"}}
	for want, b := range map[string]job.IdentifiedBody{
		"stays there; open a new job on lamp-excited": {System: "lamp-excited", Looks: look},
		"nothing was looked at":                       {System: "isolated-earth-side"},
		"a probability of 1.5 is none":                {System: "isolated-earth-side", Looks: look, Probability: 1.5},
		"does not say what was asked or seen":         {System: "isolated-earth-side", Looks: []job.LookBody{{Look: "regulator"}}},
	} {
		if _, err := job.Fold(happened(t, event(t, "i", job.Identified, b)), s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	good := job.IdentifiedBody{System: "isolated-earth-side", Looks: look, Probability: 0.5}
	j, err := job.Fold(happened(t, event(t, "i", job.Identified, good)), s)
	if err != nil || !reflect.DeepEqual(j.Identified, &good) {
		t.Errorf("%+v (%v)", j, err)
	}
	back := happened(t, event(t, "i", job.Identified, good), event(t, "c", job.Withdrawn, job.WithdrawnBody{Event: "i"}))
	if j, err := job.Fold(back, s); err != nil || j.Identified != nil || !j.Entries[0].Back {
		t.Errorf("taken back: %+v (%v)", j, err)
	}
}

// TestReopened: a signed job is opened again with a reason; the signature stays in
// what happened, the hook-up counts as not seen, and taken back the signature
// stands as it stood.
func TestReopened(t *testing.T) {
	s := shelf(t)
	signed := event(t, "s", job.Signed, job.SignedBody{Gone: "yes", Head: "00", Report: json.RawMessage(`{"format":1}`)})
	why := event(t, "o", job.Reopened, job.ReopenedBody{Why: "came back"})
	off := event(t, "g", job.FoundRig, job.RigBody{Rig: map[string]string{"earth-cable": "off", "engine": "off"}})
	before := happened(t, off, rest(t, "a", "r1", 12.4), off, event(t, "p", job.Proved, job.ProvedBody{Readings: []string{"r1"}, Covers: true, Leads: true}), signed)
	before[3].ID = "g2"
	closed, err := job.Fold(before, s)
	if err != nil || closed.Signed == nil || stands(closed, closed.Rig, "earth-cable") != "off" {
		t.Fatalf("%+v (%v)", closed, err)
	}
	after := append(before, job.Event{ID: "o", Seq: 7, Kind: job.Reopened, V: 1, Body: why.Body})
	j, err := job.Fold(after, s)
	if err != nil {
		t.Fatal(err)
	}
	if j.Signed != nil || j.Proved != nil || j.Rig != j.System.Rig.Rest || j.Known != 0 {
		t.Errorf("reopened it is signed %v, proved %v, earth cable %s, seen %b", j.Signed != nil, j.Proved != nil, stands(j, j.Rig, "earth-cable"), j.Known)
	}
	if n := len(j.Entries); n != 6 || j.Entries[4].Kind != job.Signed || j.Entries[4].Back || len(j.Readings) != 1 {
		t.Errorf("%+v", j.Entries)
	}
	if last, ok := job.Last(after); !ok || last.ID != "o" {
		t.Errorf("next to be taken back: %s, %v", last.ID, ok)
	}
	back := append(after[:6:6], after[6], job.Event{ID: "c", Seq: 8, Kind: job.Withdrawn, V: 1, Body: []byte(`{"event":"o"}`)})
	if j, err := job.Fold(back, s); err != nil || j.Signed == nil || j.Proved == nil || j.Rig != closed.Rig || j.Known != closed.Known {
		t.Errorf("with the reopening taken back: %+v (%v)", j, err)
	}
	// A reading from before the signature that arrives now leaves the hook-up alone.
	late := rest(t, "l", "r2", 12.5)
	late.Seq, late.V, late.Seen = 8, 1, 3
	if j, err := job.Fold(append(after[:7:7], late), s); err != nil || j.Rig != j.System.Rig.Rest || j.Known != 0 || len(j.Readings) != 2 {
		t.Errorf("late: %+v (%v)", j, err)
	}
	for want, list := range map[string][]job.Event{
		"is not signed":   happened(t, rest(t, "a", "r1", 12.4), why),
		"nothing to":      append(after[:7:7], job.Event{ID: "o2", Seq: 8, Kind: job.Reopened, V: 1, Body: why.Body}),
		"does not say":    append(before[:6:6], job.Event{ID: "o", Seq: 7, Kind: job.Reopened, V: 1, Body: []byte(`{"why":" "}`)}),
		`unknown field "`: append(before[:6:6], job.Event{ID: "o", Seq: 7, Kind: job.Reopened, V: 1, Body: []byte(`{"why":"x","mood":1}`)}),
	} {
		if _, err := job.Fold(list, s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
