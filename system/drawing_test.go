package system_test

import (
	"os"
	"slices"
	"testing"

	"chargewright/system"
)

func drawn(t *testing.T) *system.System {
	t.Helper()
	data, err := os.ReadFile("testdata/good/drawn.yaml")
	if err != nil {
		t.Fatal(err)
	}
	s, err := system.Parse("drawn.yaml", data)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestDrawingRead holds what is read against the file's own figures.
func TestDrawingRead(t *testing.T) {
	d := drawn(t).Drawing
	if d == nil || d.Width != 100 || d.Height != 60 {
		t.Fatalf("the sheet is %+v", d)
	}
	if d.Machine.Bridge != (system.XY{X: 11.5, Y: 31}) || d.Machine.To != (system.XY{X: 32, Y: 42}) || d.Regulator.From != (system.XY{X: 50, Y: 20}) {
		t.Errorf("machine %+v, regulator %+v", d.Machine, d.Regulator)
	}
	if d.Bank == nil || d.Watch == nil || d.Belt == nil || *d.Bank != (system.XY{X: 82, Y: 35}) {
		t.Errorf("load tester %v, watch meter %v, belt %v", d.Bank, d.Watch, d.Belt)
	}
	if len(d.Outlines) != 1 || d.Outlines[0].Name != "bulkhead" || d.Rail("case") == nil || d.Rail("stud") != nil {
		t.Errorf("outlines %v, rails %v", d.Outlines, d.Rails)
	}
	if d.Sides["stud"] != system.AboveLeft || d.Sides["batp"] != system.Above || len(d.Sides) != 6 {
		t.Errorf("sides %v", d.Sides)
	}
	small, err := os.ReadFile("testdata/good/small.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if s, err := system.Parse("small.yaml", small); err != nil || s.Drawing != nil {
		t.Errorf("a file that says nothing of a drawing has %+v, %v", s.Drawing, err)
	}
}

// TestPath: corners, rails and frames, worked out by hand.
func TestPath(t *testing.T) {
	s := drawn(t)
	at := map[string]system.XY{}
	for _, p := range s.Points {
		at[p.ID] = system.XY{X: p.X, Y: p.Y}
	}
	for id, want := range map[string][]system.XY{
		"j-out": {{X: 9, Y: 20}, {X: 9, Y: 8}, {X: 90, Y: 8}, {X: 90, Y: 30}}, // corners between two points
		// the first corner lies on the rail of the case: there it begins
		"j-earth": {{X: 70, Y: 50}, {X: 70, Y: 54}, {X: 90, Y: 54}, {X: 90, Y: 40}},
		// framed: it ends at its last corner and not at its second point
		"lamp": {{X: 90, Y: 30}, {X: 75, Y: 30}, {X: 75, Y: 36}},
	} {
		i := slices.IndexFunc(s.Elements, func(e system.Element) bool { return e.ID == id })
		if got := s.Drawing.Path(&s.Elements[i], at); !slices.Equal(got, want) {
			t.Errorf("%s runs %v, want %v", id, got, want)
		}
	}
	// without a route: square onto a rail, and the usual symbol of its kind
	d := &system.Drawing{Rails: []system.Rail{{Point: "case", Box: system.Box{From: system.XY{X: 0, Y: 9}, To: system.XY{X: 50, Y: 9}}}}}
	e := &system.Element{ID: "x", Name: "horn", Kind: system.Load, From: "a", To: "case"}
	got := d.Path(e, map[string]system.XY{"a": {X: 30, Y: 2}, "case": {X: 1, Y: 9}})
	if want := []system.XY{{X: 30, Y: 2}, {X: 30, Y: 9}}; !slices.Equal(got, want) {
		t.Errorf("onto a rail it runs %v, want %v", got, want)
	}
	if r := d.Route(e); r.Symbol != system.Resistor || r.Name != "horn" {
		t.Errorf("a load without a route is drawn as %+v", r)
	}
	if r := d.Route(&system.Element{ID: "j", Name: "ring", Kind: system.Joint}); r.Symbol != system.JointMark || r.Name != "" {
		t.Errorf("a joint without a route is drawn as %+v", r)
	}
}

// TestLibraryIsDrawn: every point of the library that can be touched stands on
// the sheet, numbered from the output stud on.
func TestLibraryIsDrawn(t *testing.T) {
	for _, id := range system.Library() {
		s, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		if s.Drawing == nil {
			t.Errorf("%s has no drawing", id)
			continue
		}
		numbers, last := map[int]string{}, 0
		for _, p := range s.Points {
			if p.Number > 0 {
				numbers[p.Number], last = p.ID, max(last, p.Number)
			}
		}
		if numbers[1] != s.Machine.Output {
			t.Errorf("%s: number 1 is %s, want the output stud %s", id, numbers[1], s.Machine.Output)
		}
		if last != len(numbers) {
			t.Errorf("%s: %d points are numbered, up to %d: a number is left out", id, len(numbers), last)
		}
	}
}
