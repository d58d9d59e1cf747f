package system

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"chargewright/internal/yamlread"
)

// check holds what the file says against itself: every mention must be of
// something declared, every point must hang on the circuit.
func (r *reader) check() {
	r.elsewhere = nil
	for _, ref := range r.f.Refs() {
		switch ref.Kind {
		case "point", "fault", "caution", "element", "place":
			r.must(ref, ref.Kind, ref.Kind)
		case "target":
			if _, param := paramKinds[ref.ID]; !param {
				r.must(ref, "element", "element or parameter", ParamIDs()...)
			}
			r.unused(ref.ID, ref.Pos)
		default:
			r.elsewhere = append(r.elsewhere, ref)
		}
	}
	r.checkReference()
	before := len(r.f.Problems())
	if r.checkFloating(); len(r.f.Problems()) == before {
		r.checkPair()
	}
	r.checkFollows()
	r.checkRest()
	r.checkDrawing()
}

// must notes a mention of something that is not declared.
func (r *reader) must(ref yamlread.Ref, kind, word string, also ...string) {
	if _, ok := r.ids[kind][ref.ID]; ok {
		return
	}
	if ref.Line == r.hookAt.Line && ref.Col == r.hookAt.Col {
		key := kind + " " + ref.ID
		if r.gone[key] {
			return
		}
		if r.gone == nil {
			r.gone = map[string]bool{}
		}
		r.gone[key] = true
		if r.based {
			r.f.Add(ref.Pos, "the base speaks of "+word+" "+ref.ID+", which this file leaves out", "that "+kind+" kept; or what speaks of it laid over, or under without:")
			return
		}
		place := r.placesOf(ref.ID)
		r.f.Add(ref.Pos, "the hook-ups speak of "+word+" "+ref.ID+", which this file has not", "that "+kind+"; or "+place+" under places with other sets; or without: ["+place+"]")
		return
	}
	known := slices.AppendSeq(also, maps.Keys(r.ids[kind]))
	r.f.Add(ref.Pos, "no "+word+" is called "+ref.ID, yamlread.Suggest(ref.ID, known))
}

// placesOf names the places that switch an element or parameter.
func (r *reader) placesOf(id string) string {
	var out []string
	for _, p := range r.s.Rig.Places {
		for _, at := range p.Positions {
			for _, x := range at.Sets {
				if x.Element == id && !slices.Contains(out, p.ID) {
					out = append(out, p.ID)
				}
			}
		}
	}
	if len(out) == 0 {
		return "its place"
	}
	return strings.Join(out, ", ")
}

// checkReference: exactly one point is the zero of all voltages.
func (r *reader) checkReference() {
	first := ""
	for _, p := range r.s.Points {
		switch {
		case !p.Reference:
		case first == "":
			first = p.ID
		default:
			r.f.Add(r.ids["point"][p.ID], "a second reference; the first is "+first, "reference: true at one point only")
		}
	}
	if first == "" && len(r.s.Points) > 0 {
		r.f.Add(r.ids["point"][r.s.Points[0].ID], "no point is the reference", "reference: true at the battery's earthed post")
	}
}

// groups joins points: a point to another of its group, up to the root.
type groups map[string]string

func (g groups) root(p string) string {
	for g[p] != "" {
		p = g[p]
	}
	return p
}

func (g groups) join(points ...string) {
	for _, p := range points[1:] {
		if a, b := g.root(points[0]), g.root(p); a != b {
			g[b] = a
		}
	}
}

// checkPair holds field and regulator against each other, by joints and wires
// alone: contacts on the supply side want one ring on the case and feed the
// other; an output stage on the earth side wants no ring on the case, for that
// would be full field for ever. Mixed up, either burns or does nothing.
func (r *reader) checkPair() {
	for i, g := range r.s.Generators() {
		if i < len(r.pairAt) {
			r.checkGenerator(g, r.pairAt[i])
		}
	}
}

func (r *reader) checkGenerator(s Generator, pairAt yamlread.Pos) {
	ends := []string{s.Machine.RingA, s.Machine.RingB, s.Machine.Case, s.Regulator.Field, s.Regulator.Kind}
	if slices.Contains(ends, "") {
		return // what is missing has been said
	}
	g := groups{}
	for _, e := range r.s.Elements {
		if e.Kind == Joint || e.Kind == Wire {
			g.join(e.From, e.To)
		}
	}
	var earthed, held []string // rings on the case, and at the field pin
	for _, ring := range ends[:2] {
		if g.root(ring) == g.root(s.Machine.Case) {
			earthed = append(earthed, ring)
		}
		if g.root(ring) == g.root(s.Regulator.Field) {
			held = append(held, ring)
		}
	}
	supply := s.Regulator.Kind == SupplySideVibrating
	switch {
	case len(held) != 1:
		r.f.Add(pairAt, "the regulator's field pin must lead to one ring of the machine by joints and wires, and leads to "+strconv.Itoa(len(held)), "a joint or wire from "+s.Regulator.Field+" towards one ring alone")
	case slices.Contains(earthed, held[0]):
		r.f.Add(pairAt, "a joint or wire leads from the regulator's field pin to the machine's case: it shorts the regulator or holds the field full", "the field pin on "+held[0]+" alone")
	case supply && len(earthed) == 0:
		r.f.Add(pairAt, "a regulator on the supply side feeds one ring, and no joint or wire earths the other: there is no field", "a joint or wire from the other ring to "+s.Machine.Case+", or kind: "+EarthSideElectronic)
	case !supply && len(earthed) > 0:
		r.f.Add(pairAt, "a regulator on the earth side lets the field to earth, and "+earthed[0]+" is on the case already: it can do nothing", "that ring on a supply, or kind: "+SupplySideVibrating)
	}
}

// checkFloating reports points without a path to the reference through joints,
// wires, loads, the battery, the alternator or the regulator. A gap is no path:
// its point would sit at an undefined voltage.
func (r *reader) checkFloating() {
	g := groups{}
	root, join := g.root, g.join
	for _, e := range r.s.Elements {
		if e.Kind != Gap {
			join(e.From, e.To)
		}
	}
	for _, b := range r.s.Accumulators() {
		join(b.Positive, b.Negative)
	}
	if x := r.s.Relay; x.CoilPlus != "" {
		join(x.CoilPlus, x.CoilMinus) // contacts may stand open
	}
	if x := r.s.Splitter; x.In != "" {
		join(x.In, x.Out[0], x.Out[1])
	}
	for _, x := range r.s.Generators() {
		join(x.Machine.Output, x.Machine.Case)
		join(x.Machine.RingA, x.Machine.RingB)
		join(x.Regulator.Supply, x.Regulator.Field, x.Regulator.Case)
		if x.Regulator.Kind == EarthSideThreeWay {
			join(x.Regulator.Case, x.Regulator.SensePlus)
		}
		if x.Machine.DPlus != "" {
			join(x.Machine.Case, x.Machine.DPlus)
		}
		for _, p := range x.Regulator.insidePoints() {
			join(x.Regulator.Case, p)
		}
	}
	for _, p := range r.s.Points {
		if !p.Reference || p.ID == "" {
			continue
		}
		for _, q := range r.s.Points {
			if q.ID != "" && root(q.ID) != root(p.ID) {
				r.f.Add(r.ids["point"][q.ID], "point "+q.ID+" hangs in the air: no joint, wire or load leads from it to "+p.ID, "a joint, wire or load that names it, or no such point")
			}
		}
		return
	}
}

// checkFollows: a fault does not cause itself.
func (r *reader) checkFollows() {
	for _, x := range r.s.Faults {
		for _, v := range x.Follows {
			if v.Fault == x.ID && x.ID != "" {
				r.f.Add(r.ids["fault"][x.ID], "fault "+x.ID+" follows itself", "another fault")
			}
		}
	}
}

// checkRest: the first position of every place is the one in which the vehicle
// rolls in, with its engine stopped.
func (r *reader) checkRest() {
	for _, p := range r.s.Rig.Places {
		if len(p.Positions) > 0 && p.Positions[0].Engine != 0 {
			r.f.Add(r.ids["place"][p.ID], "place "+p.ID+": the first position turns the engine", "the position with the engine off first")
		}
	}
}
