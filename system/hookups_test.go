package system_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"chargewright/system"
)

// TestHookUpsTravel: what a file takes from the library goes with its bytes, so
// that a job that is pinned to them reads the same whatever the library says
// later; its own text stays as it was written.
func TestHookUpsTravel(t *testing.T) {
	own := read(t, "testdata/good/laid.yaml")
	s, err := system.Parse("laid.yaml", own)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(s.Own(), own) {
		t.Error("its own text is not what was written")
	}
	again, err := system.Parse("laid.yaml", s.Source)
	if err != nil {
		t.Fatal(err)
	}
	if again.SHA256 != s.SHA256 || !bytes.Equal(again.Source, s.Source) {
		t.Error("bytes that were pinned do not give themselves")
	}
	if !equal(same(t, "laid", own), same(t, "laid", s.Source)) {
		t.Error("pinned bytes give another system")
	}
	older := bytes.Replace(s.Source, []byte("Stop the engine"), []byte("Engine off"), 1)
	before, err := system.Parse("laid.yaml", older)
	if err != nil {
		t.Fatal(err)
	}
	if say := sayOf(t, before, "engine", "idle", "off"); say != "Engine off" {
		t.Errorf("the library overrode what was pinned: %s", say)
	}
	if before.SHA256 == s.SHA256 {
		t.Error("other hook-ups, same hash")
	}
}

// TestLaidOver: an item is laid over by id and key by key; a new place stands
// where before: says.
func TestLaidOver(t *testing.T) {
	s, err := system.Parse("laid.yaml", read(t, "testdata/good/laid.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	var places []string
	for _, p := range s.Rig.Places {
		places = append(places, p.ID)
	}
	want := "brake exhaust watch-meter earth-cable output-lead ignition cover engine load-bank accessories"
	if got := strings.Join(places, " "); got != want {
		t.Errorf("places %s, want %s", got, want)
	}
	if say := sayOf(t, s, "engine", "off", "idle"); say != "Stand clear; start the engine" {
		t.Errorf("move not laid over: %s", say)
	}
	for _, p := range s.Rig.Places {
		for _, v := range p.Moves {
			if p.ID == "engine" && p.Positions[v.From].ID == "off" && p.Positions[v.To].ID == "idle" && (v.Minutes == 0 || len(v.Cautions) == 0 || len(v.Needs) == 0) {
				t.Errorf("what was not laid over is gone: %+v", v)
			}
		}
	}
	for _, c := range s.Cautions {
		if c.ID == "c25" && (c.Text != "Mind the fan." || c.Source == "") {
			t.Errorf("caution %+v", c)
		}
	}
}

func sayOf(t *testing.T, s *system.System, place, from, to string) string {
	t.Helper()
	for _, p := range s.Rig.Places {
		for _, v := range p.Moves {
			if p.ID == place && p.Positions[v.From].ID == from && p.Positions[v.To].ID == to {
				return v.Say
			}
		}
	}
	t.Fatalf("no move of %s from %s to %s", place, from, to)
	return ""
}

// TestLeavingOutKeepsRules: a place that is left out counts as standing as it
// rolled in. A rule that then always forbids something is a problem and is not
// dropped; one that can never bite is.
func TestLeavingOutKeepsRules(t *testing.T) {
	text := string(read(t, "testdata/good/laid.yaml"))
	for _, c := range []struct{ out, want string }{
		{"brake", "without brake rule R1 would forbid for ever: engine: crank, idle, fast, quick"},
		{"exhaust", "without exhaust rule R2 would forbid for ever"},
		{"earth-cable", "without earth-cable place output-lead could never go from on to off (rule R6)"},
	} {
		laid := strings.Replace(text, "  - id: "+c.out+"\n    positions:\n      - {id: \"off\", sets: [{element: j-earth, open: true}]}\n", "", 1)
		_, err := system.Parse("laid.yaml", []byte(strings.Replace(laid, "without: [", "without: ["+c.out+", ", 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("without %s: %v, want %s", c.out, err, c.want)
		}
	}
	s, err := system.Parse("laid.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	full, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	// Rows that speak of no place left out stand as they are, and one is added.
	kept := 0
	for _, n := range full.Rig.Never {
		gone := false
		for _, when := range n.When {
			gone = gone || !hasPlace(s, full.Rig.Places[when.Place].ID)
		}
		if !gone {
			kept++
		}
	}
	if len(s.Rig.Never) != kept+1 {
		t.Errorf("%d rows of never, want %d and one of its own", len(s.Rig.Never), kept)
	}
}

func hasPlace(s *system.System, id string) bool {
	for _, p := range s.Rig.Places {
		if p.ID == id {
			return true
		}
	}
	return false
}

// TestVersionOfABase: a file that is a version of a shipped system says what differs
// and is the rest; what it took travels with it, so that pinned bytes read the same.
func TestVersionOfABase(t *testing.T) {
	own := read(t, "testdata/good/version.yaml")
	s, err := system.Parse("version.yaml", own)
	if err != nil {
		t.Fatal(err)
	}
	base, err := system.ByID("lamp-excited")
	if err != nil {
		t.Fatal(err)
	}
	if s.ID != "my-van" || s.Arrangement != "lamp-excited" || s.About != "" {
		t.Errorf("id %s, arrangement %s, about %q: what the base is was taken", s.ID, s.Arrangement, s.About)
	}
	if !bytes.Equal(s.Own(), own) {
		t.Error("its own text is not what was written")
	}
	if len(s.Faults) != len(base.Faults)-2 || len(s.Limits) != len(base.Limits)-1 || len(s.Elements) != len(base.Elements) || len(s.Points) != len(base.Points) {
		t.Errorf("%d faults, %d limits, %d elements, %d points of %d, %d, %d, %d", len(s.Faults), len(s.Limits), len(s.Elements), len(s.Points),
			len(base.Faults), len(base.Limits), len(base.Elements), len(base.Points))
	}
	for i, e := range s.Elements {
		was := base.Elements[i]
		switch e.ID {
		case "w-charge":
			// closed form: 2.4 m for 1.6 m of the same section
			if math.Abs(e.Median/was.Median-1.5) > 1e-12 || e.Area != was.Area || e.Name != was.Name || e.Source != "measured" {
				t.Errorf("charge wire %+v", e)
			}
		case "coil":
			if e.Median != 6 || e.Spread != was.Spread || e.From != was.From {
				t.Errorf("coil %+v", e)
			}
		default:
			if e != was {
				t.Errorf("%s moved: %+v", e.ID, e)
			}
		}
	}
	again, err := system.Parse("version.yaml", s.Source)
	if err != nil || again.SHA256 != s.SHA256 || !equal(same(t, "version", own), same(t, "version", s.Source)) {
		t.Errorf("bytes that were pinned do not give themselves: %v", err)
	}
	if older := bytes.Replace(s.Source, []byte("{id: w-lamp, name: warning lamp wire"), []byte("{id: w-lamp, name: thin wire"), 1); true {
		if before, err := system.Parse("version.yaml", older); err != nil || equal(same(t, "v", s.Source), same(t, "v", before.Source)) {
			t.Errorf("the library overrode what was pinned: %v", err)
		}
	}
}

// TestPairOfBatteries: two in series are two devices of half the volts, in order
// from the line's positive post.
func TestPairOfBatteries(t *testing.T) {
	s, err := system.ByID("lamp-excited-24")
	if err != nil {
		t.Fatal(err)
	}
	a := s.Accumulators()
	if len(a) != 2 || a[0].Positive != "batp" || a[0].Negative != "front-neg" || a[1].Positive != "rear-pos" || a[1].Negative != "batn" || a[0].Volts != 12 || a[1].Volts != 12 {
		t.Fatalf("batteries %+v", a)
	}
	level := s.RestVolts(func(i int) float64 { return s.Elements[i].Median })
	// closed form: 12.5 V each
	if level["stud"] != 25 || level["link-rear"] != 12.5 || level["rear-pos"] != 12.5 {
		t.Errorf("stud %v, link %v", level["stud"], level["link-rear"])
	}
	van, err := system.ByID("lamp-excited")
	if err != nil {
		t.Fatal(err)
	}
	if a := van.Accumulators(); len(a) != 1 || a[0].Volts != 12 || van.Series() {
		t.Errorf("a van with %+v", a)
	}
}
