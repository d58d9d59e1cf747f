package drawing_test

import (
	"os"
	"testing"

	"pgregory.net/rapid"

	"chargewright/drawing"
	"chargewright/internal/sample"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// drawOptions makes up a picture: a legal hook-up reached by legal moves, leads
// on any two points, a clamp on any wire, causes of any faults.
func drawOptions(t *rapid.T, sys *system.System) drawing.Options {
	state := sys.Rig.Rest
	var next *rig.Option
	for range rapid.IntRange(0, 25).Draw(t, "moves") {
		var legal []rig.Option
		for _, m := range sys.Rig.Moves(state) {
			if len(m.Refused) == 0 {
				legal = append(legal, m)
			}
		}
		if next != nil {
			state = state.With(next.Place, next.Move.To)
			next = nil
			continue
		}
		m := rapid.SampledFrom(legal).Draw(t, "move")
		next = &m
	}
	o := drawing.Options{Rig: state}
	if next != nil {
		p := sys.Rig.Places[next.Place]
		o.Now = &drawing.Now{Place: p.ID, To: p.Positions[next.Move.To].ID, Stage: rapid.IntRange(0, 12).Draw(t, "stage")}
	}
	points := rapid.SampledFrom(sys.Points)
	switch rapid.IntRange(0, 4).Draw(t, "now") {
	case 0:
		o.Now = &drawing.Now{Point: points.Draw(t, "now point").ID, Stage: 2}
	case 1:
		if e := rapid.SampledFrom(sys.Elements).Draw(t, "now element"); e.Kind != system.Gap {
			o.Now = &drawing.Now{Element: e.ID}
		}
	}
	o.InTurn = rapid.Bool().Draw(t, "in turn")
	pairs := rapid.IntRange(0, 3).Draw(t, "pairs")
	box := func() int {
		if pairs < 2 {
			return 0
		}
		return len(o.Leads) + 1
	}
	for range pairs {
		red, black := points.Draw(t, "red"), points.Draw(t, "black")
		if red.ID != black.ID {
			o.Leads = append(o.Leads, drawing.Lead{Red: red.ID, Black: black.ID, Box: box(), Quantity: rapid.SampledFrom([]question.Kind{question.Volts, question.ACVolts, question.Ohms}).Draw(t, "quantity")})
		}
	}
	if rapid.Bool().Draw(t, "clamp") {
		e := rapid.SampledFrom(sys.Elements).Draw(t, "wire")
		if e.Kind == system.Wire {
			o.Clamps = []drawing.Clamp{{Element: e.ID, Box: box()}}
		}
	}
	for k := range rapid.IntRange(0, 5).Draw(t, "causes") {
		o.Causes = append(o.Causes, drawing.Cause{Letter: []string{"H", "J", "K2", "HJ", "W"}[k], Faults: []string{rapid.SampledFrom(sys.Faults).Draw(t, "fault").ID}})
	}
	o.Close = rapid.Bool().Draw(t, "close")
	return o
}

// TestAnyPicture: whatever is asked, no label lies over another, a symbol or a
// cable, and leads attach where they should.
func TestAnyPicture(t *testing.T) {
	sys := shipped(t)
	widths := []int{drawing.Phone, drawing.PhoneWide, drawing.Tablet, drawing.Wide}
	for _, w := range widths {
		sheet(t, sys, w)
	}
	closeUp(t, sys, drawing.Phone)
	sample.Checks(t, 40)
	rapid.Check(t, func(r *rapid.T) {
		o := drawOptions(r, sys)
		s := sheet(t, sys, rapid.SampledFrom(widths).Draw(r, "width"))
		if o.Close {
			s = closeUp(t, sys, drawing.Phone)
		}
		sc, err := s.Draw(o)
		if err != nil {
			r.Fatal(err)
		}
		for _, bad := range offences(t, sc) {
			r.Errorf("%s", bad)
		}
		leadsAttach(r, shown{name: "any", o: o}, sc)
		if n := count(sc.Labels, drawing.Letter); !o.Close && n != len(o.Causes) && placed(sys, o) {
			r.Errorf("%d letters for %d causes", n, len(o.Causes))
		}
	})
}

// placed says whether every cause sits somewhere on the drawing: one that is a
// matter of the bank's or the bay's figures alone does not.
func placed(sys *system.System, o drawing.Options) bool {
	for _, c := range o.Causes {
		for _, f := range sys.Faults {
			if f.ID == c.Faults[0] && len(f.Changes) == 0 && f.Pattern == "" {
				return false
			}
		}
	}
	return true
}

func count(labels []drawing.Label, kind drawing.LabelKind) (n int) {
	for _, l := range labels {
		if l.Kind == kind {
			n++
		}
	}
	return n
}

// TestNoPlan: systems whose files say nothing of where things stand are drawn
// by the same rules.
func TestNoPlan(t *testing.T) {
	data, err := os.ReadFile("../system/testdata/good/small.yaml")
	if err != nil {
		t.Fatal(err)
	}
	small, err := system.Parse("small.yaml", data)
	if err != nil {
		t.Fatal(err)
	}
	bare := *shipped(t)
	for _, sys := range []*system.System{small, &bare} {
		sys.Drawing = nil
		for _, width := range []int{drawing.Phone, drawing.Tablet, drawing.Wide} {
			s := sheet(t, sys, width)
			x := shown{name: sys.ID + " without a plan", o: drawing.Options{Rig: sys.Rig.Rest}}
			numbered(t, sys, x, held(t, s, x))
			if sys == small {
				continue
			}
			for _, id := range []string{"drop-feed", "plug-pins-key-on", "bench-rotor-ohms"} {
				x := shown{name: id + " without a plan", o: drawing.ForProcedure(sys, catalogue(t)[id], reached(t, sys, id), 0)}
				numbered(t, sys, x, held(t, s, x))
			}
		}
	}
}
