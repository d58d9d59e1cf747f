package drawing

import (
	"slices"
	"strings"

	"chargewright/rig"
	"chargewright/system"
)

// hookup is what a rig does to the circuit.
type hookup struct {
	sys   *system.System
	state rig.State
	shown rig.State // the same, with what is being fitted in its place

	open   map[string]int     // element to the place that opens it
	closed map[string]bool    // loads and gaps that are closed
	series map[string]bool    // joints with an ammeter in series
	live   map[string]bool    // points at battery volts
	gaps   map[string]*fitted // jumpers and bypass leads
}

// fitted is a lead that is not the vehicle's own.
type fitted struct {
	gap    *system.Element
	place  int
	closed bool // conducts; else its switch is open
	push   bool // has a switch
}

// meterOhms: a load of no more than this is a meter or a shunt in the line and
// not a consumer; what lies behind it is at battery volts too. Source: a dash
// ammeter has 1-3 mOhm, a starter 50 (docs/models/vehicle.md).
const meterOhms = 10e-3

// leadOhms: what is put across a gap and has more than this is no lead but a load
// tester; what lies behind it is not joined. Source: the thinnest lead of the
// library has 40 mOhm, a load tester on one battery 70.
const leadOhms = 60e-3

// hookUp reads a state of the system's places.
func hookUp(sys *system.System, state rig.State) *hookup {
	h := &hookup{sys: sys, state: state, shown: state, open: map[string]int{}, closed: map[string]bool{}, series: map[string]bool{}, gaps: map[string]*fitted{}}
	for i, place := range sys.Rig.Places {
		at := state.At(i)
		if at >= len(place.Positions) {
			continue
		}
		for _, set := range place.Positions[at].Sets {
			e := element(sys, set.Element)
			switch {
			case e == nil: // a parameter
			case set.Open:
				h.open[e.ID] = i
			case e.Kind == system.Gap:
				h.closed[e.ID] = set.Value <= leadOhms
			case set.Closed:
				h.closed[e.ID] = true
			case set.Add > 0 && e.Kind == system.Joint:
				h.series[e.ID] = true
			}
		}
		h.fit(i, at, true)
	}
	h.walk()
	return h
}

// fuseOut says whether a lead is fitted and does not conduct: no lead has a
// megohm.
func fuseOut(set rig.Set) bool { return set.Value > 1e6 }

// fit finds the lead that a place stands for while it is not at rest: the gap
// of its position, or, where a switch keeps it open, of one of its others.
func (h *hookup) fit(i, at int, conducts bool) {
	place := h.sys.Rig.Places[i]
	if at == 0 {
		return
	}
	gapOf := func(q rig.Position) (*system.Element, bool) {
		for _, set := range q.Sets {
			if e := element(h.sys, set.Element); e != nil && e.Kind == system.Gap {
				return e, !fuseOut(set)
			}
		}
		return nil, false
	}
	waits := false // some position other than the first leaves every gap open
	var other *system.Element
	for k, q := range place.Positions {
		g, _ := gapOf(q)
		waits = waits || k > 0 && g == nil
		if g != nil && other == nil {
			other = g
		}
	}
	own, through := gapOf(place.Positions[at])
	if g := own; g != nil || other != nil {
		if g == nil {
			g = other
		}
		if old := h.gaps[g.ID]; old == nil || !old.closed {
			h.gaps[g.ID] = &fitted{gap: g, place: i, closed: own != nil && through && conducts, push: waits}
		}
	}
}

// conducts says whether an element joins its points for the walk: joints, wires
// and leads do unless they are opened, loads only where they are meters.
func (h *hookup) conducts(e *system.Element) bool {
	if _, open := h.open[e.ID]; open {
		return false
	}
	switch e.Kind {
	case system.Gap:
		return h.closed[e.ID]
	case system.Load:
		return e.Median <= meterOhms && (!e.Off || h.closed[e.ID])
	}
	return true
}

// reach is every point that hangs on one by what conducts, never through a wall.
func (h *hookup) reach(from string, wall map[string]bool) map[string]bool {
	got, queue := map[string]bool{from: true}, []string{from}
	for len(queue) > 0 {
		p := queue[0]
		queue = queue[1:]
		for i := range h.sys.Elements {
			e := &h.sys.Elements[i]
			q := ""
			switch p {
			case e.From:
				q = e.To
			case e.To:
				q = e.From
			}
			if q != "" && !got[q] && !wall[q] && h.conducts(e) {
				got[q] = true
				queue = append(queue, q)
			}
		}
	}
	return got
}

// walk finds what is at battery volts: what hangs on the positive post and not
// on the negative one. With nothing on the negative post no volts can be felt
// against body or engine, and nothing is.
func (h *hookup) walk() {
	earth := h.reach(h.sys.Battery.Negative, map[string]bool{h.sys.Battery.Positive: true})
	h.live = map[string]bool{}
	if len(earth) <= 1 {
		return
	}
	for _, x := range h.sys.Accumulators() { // the middle of two is live as well
		for p := range h.reach(x.Positive, earth) {
			h.live[p] = true
		}
	}
}

// hot says whether an element is drawn heavy.
func (h *hookup) hot(e *system.Element) bool {
	return h.conducts(e) && h.live[e.From] && h.live[e.To]
}

// off says whether a place has opened an element. A switch that stands open is
// drawn open and is not off.
func (h *hookup) off(e *system.Element, r system.Route) bool {
	_, open := h.open[e.ID]
	return open && r.Symbol != system.Contact
}

func element(sys *system.System, id string) *system.Element {
	for i := range sys.Elements {
		if sys.Elements[i].ID == id {
			return &sys.Elements[i]
		}
	}
	return nil
}

// flag is what a black flag says of a place, empty where it says nothing.
func (h *hookup) flag(i int) string {
	place := h.sys.Rig.Places[i]
	at := h.state.At(i)
	if at == 0 || at >= len(place.Positions) {
		return ""
	}
	q := place.Positions[at]
	switch place.Role {
	case "belt":
		return "belt off"
	case "bench":
		return q.Name
	}
	if !slices.ContainsFunc(q.Sets, func(s rig.Set) bool { return s.Open }) {
		return ""
	}
	for part := range strings.SplitSeq(q.Name, ",") { // "cranking, coil lead off"
		if part = strings.TrimSpace(part); strings.HasSuffix(part, " off") {
			return part
		}
	}
	words := strings.Fields(place.Name)
	return words[len(words)-1] + " off"
}

// What is clipped across the battery.
const (
	loadTester = "load tester"
	watchMeter = "watch meter"
)

var clipRole = map[string]string{loadTester: "load-bank", watchMeter: "watch-meter"}

// clipped says whether load tester or watch meter is on.
func (h *hookup) clipped(kind string) bool {
	for i, p := range h.sys.Rig.Places {
		if p.Role == clipRole[kind] {
			return h.shown.At(i) > 0
		}
	}
	return false
}
