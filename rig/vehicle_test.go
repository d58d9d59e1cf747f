package rig

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"

	"chargewright/internal/layover"
)

// The vehicles of the tests are the shipped ones, read here by a small decoder of
// its own: package system, whose reader it is, comes later in the import order.

type vehicle struct {
	*Rig
	id       string
	cautions map[string]bool
	place    map[string]int       // id to index
	fed      bool                 // the regulator lies on the supply side of the field
	gaps     map[string][2]string // what a gap joins when it is closed
	positive string               // the battery's positive post
	coil     bool                 // it has a points coil
}

type vehicleFile struct {
	Regulator struct{ Kind string }
	Battery   struct{ Positive string }
	Gaps      []struct {
		ID      string
		Between []string
	}
	Loads  []struct{ ID string }
	Places []struct {
		ID, Name, Role string
		Positions      []struct {
			ID, Name, Speed string
			Inert           bool
			Sets            []struct {
				Element, Value, Add string
				Open, Closed        bool
			}
		}
		Moves []struct {
			From, To, Say string
			Minutes       float64
			Elapsed       float64
			Cautions      []string
			Needs         []struct {
				Place, Rule, Why string
				In               []string
			}
		}
	}
	Never []struct {
		When      map[string][]string
		Rule, Why string
	}
	Cautions []struct{ ID, Text, Source, Basis string }
}

const library = "../system/library/"

// load is the first of the shipped vehicles, for tests of the search itself.
func load(t testing.TB) vehicle {
	t.Helper()
	return loadFile(t, library+"isolated-earth-side.yaml")
}

// each runs a test on every shipped vehicle.
func each(t *testing.T, test func(*testing.T, vehicle)) {
	t.Helper()
	names, err := filepath.Glob(library + "*.yaml")
	if err != nil || len(names) < 2 {
		t.Fatalf("no vehicles in %s (%v)", library, err)
	}
	for _, name := range names {
		if id := strings.TrimSuffix(filepath.Base(name), ".yaml"); id != "practice" {
			t.Run(id, func(t *testing.T) { test(t, loadFile(t, name)) })
		}
	}
}

func readNode(t testing.TB, name string) *yaml.Node {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	return doc.Content[0]
}

// hooked is a file with the hook-ups that it names under it.
func hooked(t testing.TB, name string, own *yaml.Node) *yaml.Node {
	t.Helper()
	taken, _ := layover.Find(own, "hook-ups")
	if taken == nil {
		return own
	}
	out := over(t, name, readNode(t, library+"hook-ups/"+taken.Value+".yaml"), own)
	layover.Remove(out, "hook-ups")
	layover.Remove(out, "without")
	return out
}

// over lays a file over another, without what it says that its vehicle has not.
func over(t testing.TB, name string, base, own *yaml.Node) *yaml.Node {
	t.Helper()
	without, _ := layover.Find(own, "without")
	if wrong := layover.LeaveOut(base, own, without); len(wrong) > 0 {
		t.Fatalf("%s: %+v", name, wrong)
	}
	return layover.Over(base, own)
}

// loaded are the vehicles by file, each read once for all tests, which change none of
// them and run one after the other.
var loaded = map[string]vehicle{}

func loadFile(t testing.TB, name string) vehicle {
	t.Helper()
	if v, ok := loaded[name]; ok {
		return v
	}
	own := hooked(t, name, readNode(t, name))
	if on, _ := layover.Find(own, "base"); on != nil {
		base := hooked(t, name, readNode(t, library+on.Value+".yaml"))
		layover.Remove(base, "id")
		own = over(t, name, base, own)
	}
	var f vehicleFile
	err := own.Decode(&f)
	if err != nil {
		t.Fatal(err)
	}
	v := vehicle{
		id:       strings.TrimSuffix(filepath.Base(name), ".yaml"),
		cautions: map[string]bool{}, place: map[string]int{}, gaps: map[string][2]string{},
		fed: strings.HasPrefix(f.Regulator.Kind, "supply-side"), positive: f.Battery.Positive,
	}
	for _, g := range f.Gaps {
		v.gaps[g.ID] = [2]string(g.Between)
	}
	for _, l := range f.Loads {
		v.coil = v.coil || l.ID == "coil"
	}
	for i, p := range f.Places {
		v.place[p.ID] = i
	}
	places, never := v.decode(t, f)
	if v.Rig, err = New(places, never, 0); err != nil {
		t.Fatal(err)
	}
	for _, c := range f.Cautions {
		if v.cautions[c.ID] || c.Text == "" || c.Source == "" || c.Basis == "" {
			t.Errorf("caution %s: given twice, or without text, source or basis", c.ID)
		}
		v.cautions[c.ID] = true
	}
	loaded[name] = v
	return v
}

func (v vehicle) decode(t testing.TB, f vehicleFile) (places []Place, never []Never) {
	at := func(place, position string) int {
		i, ok := v.place[place]
		if !ok {
			t.Fatalf("no place %q", place)
		}
		for k, q := range f.Places[i].Positions {
			if q.ID == position {
				return k
			}
		}
		t.Fatalf("place %s has no position %q", place, position)
		return 0
	}
	cond := func(place string, positions []string, rule, why string) Cond {
		c := Cond{Place: v.place[place], Rule: rule, Why: why}
		for _, p := range positions {
			c.Positions = append(c.Positions, at(place, p))
		}
		return c
	}
	for _, p := range f.Places {
		out := Place{ID: p.ID, Name: p.Name, Role: p.Role}
		for _, q := range p.Positions {
			pos := Position{ID: q.ID, Name: q.Name, Inert: q.Inert, Engine: quantity(t, q.Speed)}
			for _, s := range q.Sets {
				pos.Sets = append(pos.Sets, Set{s.Element, s.Open, s.Closed, quantity(t, s.Value), quantity(t, s.Add)})
			}
			out.Positions = append(out.Positions, pos)
		}
		for _, m := range p.Moves {
			mv := Move{From: at(p.ID, m.From), To: at(p.ID, m.To), Minutes: m.Minutes, Elapsed: m.Elapsed, Say: m.Say, Cautions: m.Cautions}
			for _, n := range m.Needs {
				mv.Needs = append(mv.Needs, cond(n.Place, n.In, n.Rule, n.Why))
			}
			out.Moves = append(out.Moves, mv)
		}
		places = append(places, out)
	}
	for _, n := range f.Never {
		row := Never{Rule: n.Rule, Why: n.Why}
		for place, positions := range n.When {
			row.When = append(row.When, cond(place, positions, "", ""))
		}
		slices.SortFunc(row.When, func(a, b Cond) int { return a.Place - b.Place })
		never = append(never, row)
	}
	return places, never
}

// quantity knows the units that the file uses here.
func quantity(t testing.TB, text string) float64 {
	if text == "" {
		return 0
	}
	number, unit, _ := strings.Cut(text, " ")
	x, err := strconv.ParseFloat(number, 64)
	scale, ok := map[string]float64{"rpm": 2 * math.Pi / 60, "Ohm": 1, "mOhm": 1e-3, "MOhm": 1e6, "A": 1, "": 1}[unit]
	if err != nil || !ok {
		t.Fatalf("quantity %q", text)
	}
	return x * scale
}

// in makes a test of one place's position, by ids. Of what the vehicle does not
// have, it is absent.
func (v vehicle) in(place string, positions ...string) func(State) bool {
	if !v.has(place) {
		return func(State) bool { return slices.Contains(positions, "absent") }
	}
	i := v.place[place]
	var mask uint16
	for _, id := range positions {
		if !v.has(place + "/" + id) {
			continue
		}
		mask |= 1 << slices.IndexFunc(v.Places[i].Positions, func(p Position) bool { return p.ID == id })
	}
	return func(s State) bool { return mask>>s.At(i)&1 == 1 }
}

// notOnAll are places and positions that some vehicles do without: a regulator
// inside the machine has no plug of its own, no field is jumped on it and none fed
// past the ignition. Any other name that a vehicle lacks is a slip of the test.
var notOnAll = []string{
	"field-jumper", "regulator-plug", "field-leads/ammeter", "bypass/field-feed", "bypass/field-feed-out", "bypass/reg-earth",
	"engine/blip", "field-leads/earthed", // of a machine that a warning lamp wakes
	"watch-meter", // where nothing is jumped nobody needs one
	"half-tester", // of two batteries in series
	"split-link",  // of a second battery behind a relay
}

// has says whether the vehicle has a place, or a position of one: place/position.
func (v vehicle) has(name string) bool {
	place, position, _ := strings.Cut(name, "/")
	i, ok := v.place[place]
	ok = ok && (position == "" || slices.ContainsFunc(v.Places[i].Positions, func(p Position) bool { return p.ID == position }))
	if !ok && !slices.Contains(notOnAll, name) && !slices.Contains(notOnAll, place) {
		panic("test names " + name)
	}
	return ok
}

// at is a place's index; one that no step has where the vehicle does without it.
func (v vehicle) at(place string) int {
	if !v.has(place) {
		return -2
	}
	return v.place[place]
}

// stopped is true where nothing turns the engine.
func (v vehicle) stopped() func(State) bool { return v.in("engine", "off", "ready") }

func (v vehicle) say(s State) string {
	var out []string
	for i, p := range v.Places {
		if s.At(i) != v.Rest.At(i) {
			out = append(out, p.ID+" "+p.Positions[s.At(i)].ID)
		}
	}
	return strings.Join(out, ", ")
}
