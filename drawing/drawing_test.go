package drawing_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"chargewright/drawing"
	"chargewright/internal/sample"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

var library = sync.OnceValues(func() (*system.System, error) { return system.ByID("isolated-earth-side") })

func shipped(t testing.TB) *system.System {
	t.Helper()
	sys, err := library()
	if err != nil {
		t.Fatal(err)
	}
	return sys
}

var procedures = sync.OnceValues(question.Library)

func catalogue(t testing.TB) question.Catalogue {
	t.Helper()
	c, err := procedures()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

var (
	sheetLock sync.Mutex
	sheets    = map[string]*drawing.Sheet{}
)

// sheet lays a system out once for all tests.
func sheet(t testing.TB, sys *system.System, width int) *drawing.Sheet {
	return laid(t, sys, width, drawing.New)
}

func closeUp(t testing.TB, sys *system.System, width int) *drawing.Sheet {
	return laid(t, sys, -width, func(s *system.System, w int) (*drawing.Sheet, error) { return drawing.CloseUp(s, -w) })
}

func laid(t testing.TB, sys *system.System, width int, layOut func(*system.System, int) (*drawing.Sheet, error)) *drawing.Sheet {
	t.Helper()
	sheetLock.Lock()
	defer sheetLock.Unlock()
	key := fmt.Sprintf("%p %d", sys, width)
	if sheets[key] == nil {
		s, err := layOut(sys, width)
		if err != nil {
			t.Fatal(err)
		}
		sheets[key] = s
	}
	return sheets[key]
}

// reached is the hook-up of a procedure, from the vehicle as it rolls in.
func reached(t testing.TB, sys *system.System, procedure string) rig.State {
	t.Helper()
	return plan(t, sys, catalogue(t)[procedure]).Final
}

func plan(t testing.TB, sys *system.System, p *question.Procedure) rig.Plan {
	t.Helper()
	want, err := p.Target(sys)
	if err != nil {
		t.Fatal(err)
	}
	way, err := sys.Rig.Path(sys.Rig.Rest, want)
	if err != nil {
		t.Fatal(err)
	}
	return way
}

// shown is one picture of a test: what is asked of it and what it is called.
type shown struct {
	name   string
	points []string
	o      drawing.Options
}

// done are the procedures that can be done on a system.
func done(t testing.TB, sys *system.System) []string {
	t.Helper()
	return slices.DeleteFunc(catalogue(t).IDs(), func(id string) bool {
		ok, _ := catalogue(t)[id].Applies(sys)
		return !ok
	})
}

// everyReading is every procedure of the catalogue as it is read, each once.
func everyReading(t testing.TB, sys *system.System) []shown {
	t.Helper()
	var out []shown
	seen := map[string]bool{}
	for _, id := range done(t, sys) {
		p := catalogue(t)[id]
		s := shown{name: id, o: drawing.ForProcedure(sys, p, plan(t, sys, p).Final, 0)}
		for _, m := range p.Measure {
			if m.Red != "" && m.Meter != question.ReadOut {
				s.points = append(s.points, m.Red, m.Black)
			}
		}
		if key := fmt.Sprint(s.o); !seen[key] {
			seen[key] = true
			out = append(out, s)
		}
	}
	return out
}

// everyMove is every line of every procedure's hook-up, as it stands before it.
func everyMove(t testing.TB, sys *system.System) []shown {
	t.Helper()
	var out []shown
	seen := map[string]bool{}
	for _, id := range done(t, sys) {
		state := sys.Rig.Rest
		for k, step := range plan(t, sys, catalogue(t)[id]).Steps {
			place := sys.Rig.Places[step.Place]
			now := &drawing.Now{Place: place.ID, To: place.Positions[step.Move.To].ID, Stage: k + 1}
			if key := fmt.Sprint(state, now.Place, now.To); !seen[key] {
				seen[key] = true
				out = append(out, shown{name: fmt.Sprintf("%s, line %d", id, k+1), o: drawing.Options{Rig: state, Now: now}})
			}
			state = state.With(step.Place, step.Move.To)
		}
	}
	return out
}

// held draws one picture and holds it against the rules.
func held(t *testing.T, s *drawing.Sheet, x shown) *drawing.Scene {
	t.Helper()
	sc, err := s.Draw(x.o)
	if err != nil {
		t.Fatalf("%s: %v", x.name, err)
	}
	for _, o := range offences(t, sc) {
		t.Errorf("%s, %.0f px: %s", x.name, sc.W, o)
	}
	for _, p := range x.points {
		if !slices.ContainsFunc(sc.Points, func(q drawing.Spot) bool { return q.Point == p }) {
			t.Errorf("%s, %.0f px: point %s is not shown", x.name, sc.W, p)
		}
		if !slices.ContainsFunc(sc.Labels, func(l drawing.Label) bool { return l.Kind == drawing.Number && l.Of == p }) {
			t.Errorf("%s, %.0f px: the number of %s is not shown", x.name, sc.W, p)
		}
	}
	leadsAttach(t, x, sc)
	return sc
}

// reporter is a test, drawn or not.
type reporter interface {
	Helper()
	Errorf(format string, args ...any)
}

// leadsAttach: every pair that is asked for is drawn, each lead ends at its
// point, and where there are several each has the number of its box in words.
func leadsAttach(t reporter, x shown, sc *drawing.Scene) {
	t.Helper()
	at := map[string]drawing.Pt{}
	for _, p := range sc.Points {
		at[p.Point] = p.At
	}
	drawn := 0
	for _, l := range x.o.Leads {
		if l.Watch {
			says(t, x, sc, l.Box, "watch meter")
			continue
		}
		says(t, x, sc, l.Box, "meter")
		for kind, point := range map[string]string{"red": l.Red, "black": l.Black} {
			drawn++
			if !slices.ContainsFunc(sc.Cables, func(c drawing.Cable) bool { return c.Kind == kind && c.Of == point && c.Line[0] == at[point] }) {
				t.Errorf("%s, %.0f px: no %s lead ends at %s", x.name, sc.W, kind, point)
			}
			if !slices.ContainsFunc(sc.Labels, func(g drawing.Label) bool {
				word, mark, _ := strings.Cut(g.Text, " ")
				return g.Kind == drawing.Tag && g.Of == point && word == kind && hasBox(mark, l.Box)
			}) {
				t.Errorf("%s, %.0f px: the %s lead on %s has no tag with %d", x.name, sc.W, kind, point, l.Box)
			}
		}
	}
	for _, c := range x.o.Clamps {
		says(t, x, sc, c.Box, "clamp meter")
	}
	for _, box := range x.o.Series {
		says(t, x, sc, box, "ammeter")
	}
	ends := 0
	for _, c := range sc.Cables {
		if c.Kind != "jumper" {
			ends++
		}
	}
	if ends > drawn {
		t.Errorf("%s, %.0f px: %d leads are drawn for %d that are asked for", x.name, sc.W, ends, drawn)
	}
}

// hasBox says whether a mark such as "2", "1, 3" or "1 to 4" has a box's number;
// with 0 there must be none.
func hasBox(mark string, box int) bool {
	if first, last, ok := strings.Cut(mark, " to "); ok {
		a, _ := strconv.Atoi(first)
		b, _ := strconv.Atoi(last)
		return a <= box && box <= b
	}
	if box == 0 {
		return mark == ""
	}
	return slices.Contains(strings.Split(mark, ", "), strconv.Itoa(box))
}

// says: an instrument that is read in a numbered box is written with that number.
func says(t reporter, x shown, sc *drawing.Scene, box int, word string) {
	t.Helper()
	if box == 0 {
		return
	}
	words := map[string]string{} // names are set in lines
	for _, l := range sc.Labels {
		words[l.Text] = l.Text
	}
	for _, g := range sc.Groups {
		for _, it := range g.Items {
			words[it.Text] = it.Text
		}
	}
	for w := range words {
		if mark, ok := strings.CutPrefix(w, word+" "); ok && hasBox(mark, box) {
			return
		}
	}
	t.Errorf("%s, %.0f px: no %q has the number %d", x.name, sc.W, word, box)
}

// TestEveryReading: no label covers anything in any picture of the catalogue.
// Here each is drawn on the whole sheet and close up at some widths, with
// CHARGEWRIGHT_ALL at every one.
func TestEveryReading(t *testing.T) {
	sys := shipped(t)
	all := everyReading(t, sys)
	if len(all) < 50 {
		t.Fatalf("only %d pictures: the catalogue is not read", len(all))
	}
	for k, width := range []int{drawing.Phone, drawing.PhoneWide, drawing.Tablet, drawing.Wide} {
		t.Run(fmt.Sprint(width), func(t *testing.T) {
			t.Parallel()
			s := sheet(t, sys, width)
			for _, x := range sample.Part(all, k, 4) {
				sc := held(t, s, x)
				numbered(t, sys, x, sc)
			}
		})
	}
	for k, width := range []int{drawing.Phone, drawing.PhoneWide} {
		t.Run(fmt.Sprint("close ", width), func(t *testing.T) {
			t.Parallel()
			s := closeUp(t, sys, width)
			for _, x := range sample.Part(all, k, 2) {
				x.o.Close = true
				if sc := held(t, s, x); sc.W != float64(width) {
					t.Errorf("%s: %.0f px wide, want %d", x.name, sc.W, width)
				}
			}
		})
	}
}

// TestEveryReadingElsewhere: the same for the other systems of the library, at the
// widths of a tablet and of a phone's close-up; each at one of them here, with
// CHARGEWRIGHT_ALL at both.
func TestEveryReadingElsewhere(t *testing.T) {
	for _, id := range system.Library() {
		sys, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		if id == shipped(t).ID {
			continue
		}
		t.Run(id, func(t *testing.T) {
			t.Parallel()
			all := everyReading(t, sys)
			for _, x := range sample.Part(all, 0, 2) {
				numbered(t, sys, x, held(t, sheet(t, sys, drawing.Tablet), x))
			}
			for _, x := range sample.Part(all, 1, 2) {
				x.o.Close = true
				held(t, closeUp(t, sys, drawing.Phone), x)
			}
		})
	}
}

// numbered: on the whole drawing every point that can be touched has its number.
func numbered(t *testing.T, sys *system.System, x shown, sc *drawing.Scene) {
	t.Helper()
	n := 0
	for _, l := range sc.Labels {
		if l.Kind == drawing.Number {
			n++
		}
	}
	want := 0
	for _, p := range sys.Points {
		if p.Number > 0 {
			want++
		}
	}
	if n != want {
		t.Errorf("%s, %.0f px: %d numbers, want %d", x.name, sc.W, n, want)
	}
}

// TestEveryMove: the same for every line of every hook-up.
func TestEveryMove(t *testing.T) {
	sys := shipped(t)
	for _, width := range []int{drawing.Phone, drawing.Tablet} {
		for _, x := range everyMove(t, sys) {
			held(t, sheet(t, sys, width), x)
			x.o.Close = true
			held(t, closeUp(t, sys, drawing.Phone), x)
		}
	}
}
