package drawing_test

import (
	"fmt"
	"slices"
	"sync"
	"testing"

	"chargewright/drawing"
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

// everyReading is every procedure of the catalogue as it is read, each once.
func everyReading(t testing.TB, sys *system.System) []shown {
	t.Helper()
	var out []shown
	seen := map[string]bool{}
	for _, id := range catalogue(t).IDs() {
		p := catalogue(t)[id]
		s := shown{name: id, o: drawing.ForProcedure(sys, p, plan(t, sys, p).Final, 0)}
		for _, m := range p.Measure {
			if m.Red != "" {
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
	for _, id := range catalogue(t).IDs() {
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

// leadsAttach: each lead ends at its point, one of each colour.
func leadsAttach(t *testing.T, x shown, sc *drawing.Scene) {
	t.Helper()
	if len(x.o.Leads) == 0 {
		return
	}
	for kind, point := range map[string]string{"red": x.o.Leads[0].Red, "black": x.o.Leads[0].Black} {
		var ends []drawing.Pt
		for _, c := range sc.Cables {
			if c.Kind == kind {
				ends = append(ends, c.Line[0])
			}
		}
		at := sc.Points[slices.IndexFunc(sc.Points, func(q drawing.Spot) bool { return q.Point == point })].At
		if len(ends) != 1 || ends[0] != at {
			t.Errorf("%s: the %s lead ends at %v, point %s stands at %v", x.name, kind, ends, point, at)
		}
	}
}

// TestEveryReading: no label covers anything in any picture of the catalogue.
func TestEveryReading(t *testing.T) {
	sys := shipped(t)
	all := everyReading(t, sys)
	if len(all) < 50 {
		t.Fatalf("only %d pictures: the catalogue is not read", len(all))
	}
	for _, width := range []int{drawing.Phone, drawing.PhoneWide, drawing.Tablet, drawing.Wide} {
		t.Run(fmt.Sprint(width), func(t *testing.T) {
			t.Parallel()
			s := sheet(t, sys, width)
			for _, x := range all {
				sc := held(t, s, x)
				numbered(t, sys, x, sc)
			}
		})
	}
	for _, width := range []int{drawing.Phone, drawing.PhoneWide} {
		t.Run(fmt.Sprint("close ", width), func(t *testing.T) {
			t.Parallel()
			s := closeUp(t, sys, width)
			for _, x := range all {
				x.o.Close = true
				if sc := held(t, s, x); sc.W != float64(width) {
					t.Errorf("%s: %.0f px wide, want %d", x.name, sc.W, width)
				}
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
