package drawing_test

import (
	"slices"
	"testing"

	"chargewright/drawing"
	"chargewright/rig"
	"chargewright/system"
)

// liveByHand finds what is at battery volts another way than the package does:
// it writes down which points are joined, closes that under going on (Warshall
// 1962), and reads off what hangs on the positive post and not on the negative.
func liveByHand(sys *system.System, state rig.State) map[string]bool {
	n := len(sys.Points)
	index := map[string]int{}
	for i, p := range sys.Points {
		index[p.ID] = i
	}
	joined := make([][]bool, n)
	for i := range joined {
		joined[i] = make([]bool, n)
		joined[i][i] = true
	}
	for _, e := range sys.Elements {
		opened, closed := false, false
		for i, place := range sys.Rig.Places {
			for _, set := range place.Positions[state.At(i)].Sets {
				if set.Element == e.ID {
					opened = opened || set.Open
					closed = closed || set.Closed || e.Kind == system.Gap && set.Value < 1e6 // else its fuse is out
				}
			}
		}
		passes := e.Kind == system.Joint || e.Kind == system.Wire || e.Kind == system.Gap && closed ||
			e.Kind == system.Load && e.Median < 0.011 // a meter, not a consumer
		if passes && !opened {
			joined[index[e.From]][index[e.To]], joined[index[e.To]][index[e.From]] = true, true
		}
	}
	for k := range n {
		for i := range n {
			for j := range n {
				joined[i][j] = joined[i][j] || joined[i][k] && joined[k][j]
			}
		}
	}
	plus, minus := index[sys.Battery.Positive], index[sys.Battery.Negative]
	earthed := 0
	for j := range n {
		if joined[minus][j] {
			earthed++
		}
	}
	live := map[string]bool{}
	for j := range n {
		if earthed > 1 && joined[plus][j] && !joined[minus][j] {
			live[sys.Points[j].ID] = true
		}
	}
	return live
}

// TestHeavyLines: the heavy lines of every hook-up of the catalogue are those
// that the other walk finds.
func TestHeavyLines(t *testing.T) {
	sys := shipped(t)
	s := sheet(t, sys, drawing.Tablet)
	most := 0
	for _, x := range append(everyMove(t, sys), everyReading(t, sys)...) {
		x.o.Leads, x.o.Clamps = nil, nil
		sc, err := s.Draw(x.o)
		if err != nil {
			t.Fatal(err)
		}
		live := liveByHand(sys, x.o.Rig)
		heavy := 0
		for _, w := range sc.Wires {
			e := &sys.Elements[slices.IndexFunc(sys.Elements, func(e system.Element) bool { return e.ID == w.Element })]
			want := live[e.From] && live[e.To] && !w.Off && !(e.ID == "ign-switch" && opened(sys, x.o.Rig, e.ID))
			if w.Live != want {
				t.Errorf("%s: %s heavy %v, want %v", x.name, w.Element, w.Live, want)
			}
			if w.Off != (opened(sys, x.o.Rig, e.ID) && e.ID != "ign-switch") {
				t.Errorf("%s: %s dashed %v", x.name, w.Element, w.Off)
			}
			if !w.Off && (w.FromLive != live[e.From] || w.ToLive != live[e.To]) {
				t.Errorf("%s: %s is at battery volts at its ends %v, %v, want %v, %v", x.name, w.Element, w.FromLive, w.ToLive, live[e.From], live[e.To])
			}
			if w.Live {
				heavy++
			}
		}
		most = max(most, heavy)
	}
	if most < 20 {
		t.Errorf("at most %d heavy lines in any hook-up: the charging line alone has 12", most)
	}
}

func opened(sys *system.System, state rig.State, element string) bool {
	for i, p := range sys.Rig.Places {
		for _, set := range p.Positions[state.At(i)].Sets {
			if set.Element == element && set.Open {
				return true
			}
		}
	}
	return false
}

// at is the vehicle as it rolled in, with some places moved.
func at(t *testing.T, sys *system.System, places map[string]string) rig.State {
	t.Helper()
	state := sys.Rig.Rest
	for id, to := range places {
		i := slices.IndexFunc(sys.Rig.Places, func(p rig.Place) bool { return p.ID == id })
		k := slices.IndexFunc(sys.Rig.Places[i].Positions, func(q rig.Position) bool { return q.ID == to })
		if i < 0 || k < 0 {
			t.Fatalf("no position %s of %s", to, id)
		}
		state = state.With(i, k)
	}
	return state
}

// TestHeavySpots: hook-ups whose answer a technician knows by heart.
func TestHeavySpots(t *testing.T) {
	sys := shipped(t)
	for name, c := range map[string]struct {
		places   map[string]string
		live     []string
		not      []string
		dashed   []string
		flag     string
		nonewire bool
	}{
		"as it rolls in: to the stud, and to the switch": {
			live: []string{"w-charge", "w-link", "ammeter", "w-battery", "w-ign-in", "j-stud"}, not: []string{"ign-switch", "w-ign", "coil", "w-earth", "starter"},
		},
		"key on: the field too, as far as the slip ring": {
			places: map[string]string{"ignition": "on"}, live: []string{"ign-switch", "w-field-feed", "j-f1", "brush-a", "reg-plug-ign"}, not: []string{"brush-b", "coil", "w-field"},
		},
		"earth cable off: nothing": {
			places: map[string]string{"earth-cable": "off"}, nonewire: true, dashed: []string{"j-neg-clamp"}, flag: "cable off",
		},
		"output lead off: the stud is dead": {
			places: map[string]string{"earth-cable": "off", "output-lead": "off"}, nonewire: true, dashed: []string{"j-stud"}, flag: "wire off",
		},
		"plug off with the key on": {
			places: map[string]string{"regulator-plug": "off", "ignition": "on"}, live: []string{"w-reg-ign", "w-field-feed"},
			not: []string{"reg-plug-ign", "reg-plug-fld"}, dashed: []string{"reg-plug-ign", "reg-plug-fld"}, flag: "plug off",
		},
		"fused lead from the post to the field, key off": {
			places: map[string]string{"bypass": "field-feed"}, live: []string{"j-f1", "w-field-feed", "w-ign"}, not: []string{"ign-switch"},
		},
		"the same with its fuse out": {
			places: map[string]string{"bypass": "field-feed-out"}, not: []string{"j-f1", "w-field-feed", "w-ign"},
		},
	} {
		sc, err := sheet(t, sys, drawing.Wide).Draw(drawing.Options{Rig: at(t, sys, c.places)})
		if err != nil {
			t.Fatal(err)
		}
		live, off := map[string]bool{}, map[string]bool{}
		for _, w := range sc.Wires {
			live[w.Element], off[w.Element] = w.Live, w.Off
		}
		for _, e := range c.live {
			if !live[e] {
				t.Errorf("%s: %s is not heavy", name, e)
			}
		}
		for _, e := range c.not {
			if live[e] {
				t.Errorf("%s: %s is heavy", name, e)
			}
		}
		for _, e := range c.dashed {
			if !off[e] {
				t.Errorf("%s: %s is not dashed", name, e)
			}
		}
		for e, l := range live {
			if l && c.nonewire {
				t.Errorf("%s: %s is heavy, nothing should be", name, e)
			}
		}
		if c.flag != "" && !slices.ContainsFunc(sc.Labels, func(l drawing.Label) bool { return l.Kind == drawing.Flag && l.Text == c.flag }) {
			t.Errorf("%s: no flag says %q", name, c.flag)
		}
	}
}

// TestHeavyUpTo: key on, the ignition coil's wire is heavy as far as the coil;
// cranking, the starter's as far as the motor. Read off the painted lines.
func TestHeavyUpTo(t *testing.T) {
	sys := shipped(t)
	for name, c := range map[string]struct {
		places map[string]string
		spot   drawing.Pt // on the plan
		heavy  bool
	}{
		"coil, key off":          {nil, drawing.Pt{X: 67.2, Y: 18}, false},
		"coil, key on":           {map[string]string{"ignition": "on"}, drawing.Pt{X: 67.2, Y: 18}, true},
		"behind the coil":        {map[string]string{"ignition": "on"}, drawing.Pt{X: 67.2, Y: 50}, false},
		"starter at rest":        {map[string]string{"ignition": "on"}, drawing.Pt{X: 71.5, Y: 48}, false},
		"before its switch":      {nil, drawing.Pt{X: 71.5, Y: 40}, true},
		"starter, cranking":      {map[string]string{"ignition": "on", "engine": "crank"}, drawing.Pt{X: 71.5, Y: 48}, true},
		"behind it, cranking":    {map[string]string{"ignition": "on", "engine": "crank"}, drawing.Pt{X: 71.5, Y: 59}, false},
		"before the open switch": {nil, drawing.Pt{X: 30.5, Y: 12}, true},
		"behind the open switch": {nil, drawing.Pt{X: 38, Y: 12}, false},
	} {
		sc, err := sheet(t, sys, drawing.Wide).Draw(drawing.Options{Rig: at(t, sys, c.places)})
		if err != nil {
			t.Fatal(err)
		}
		heavy := false
		p := onSheet(t, sys, sc, c.spot)
		for _, g := range sc.Groups {
			for _, it := range g.Items {
				heavy = heavy || it.Class == drawing.LiveLine && runsOver(it.Path, p)
			}
		}
		if heavy != c.heavy {
			t.Errorf("%s: heavy %v, want %v", name, heavy, c.heavy)
		}
	}
}

// onSheet is where a place of the plan lies, reckoned from two of its points.
func onSheet(t *testing.T, sys *system.System, sc *drawing.Scene, p drawing.Pt) drawing.Pt {
	t.Helper()
	i := slices.IndexFunc(sys.Points, func(q system.Point) bool { return q.ID == "stud" })
	j := slices.IndexFunc(sys.Points, func(q system.Point) bool { return q.ID == "batn" })
	a, b := sys.Points[i], sys.Points[j]
	sa, sb := sc.Points[i].At, sc.Points[j].At
	return drawing.Pt{X: sa.X + (p.X-a.X)*(sb.X-sa.X)/(b.X-a.X), Y: sa.Y + (p.Y-a.Y)*(sb.Y-sa.Y)/(b.Y-a.Y)}
}

// runsOver says whether a path of straight lines passes a spot.
func runsOver(path drawing.Path, p drawing.Pt) bool {
	for i := 1; i < len(path); i++ {
		if path[i].Op == 'L' && nearest([]drawing.Pt{path[i-1].P[0], path[i].P[0]}, drawing.Rect{X0: p.X, Y0: p.Y, X1: p.X, Y1: p.Y}) < 1 {
			return true
		}
	}
	return false
}
