package system

import (
	"maps"
	"slices"

	"chargewright/internal/yamlread"
)

// check holds what the file says against itself: every mention must be of
// something declared, every point must hang on the circuit.
func (r *reader) check() {
	r.elsewhere = nil
	for _, ref := range r.f.Refs() {
		switch ref.Kind {
		case "point", "fault", "caution", "element":
			r.must(ref, ref.Kind, ref.Kind)
		case "target":
			if _, param := paramKinds[ref.ID]; !param {
				r.must(ref, "element", "element or parameter", ParamIDs()...)
			}
		default:
			r.elsewhere = append(r.elsewhere, ref)
		}
	}
	r.checkReference()
	r.checkFloating()
	r.checkFollows()
	r.checkRest()
	r.checkDrawing()
}

// must notes a mention of something that is not declared.
func (r *reader) must(ref yamlread.Ref, kind, word string, also ...string) {
	if _, ok := r.ids[kind][ref.ID]; ok {
		return
	}
	known := slices.AppendSeq(also, maps.Keys(r.ids[kind]))
	r.f.Add(ref.Pos, "no "+word+" is called "+ref.ID, yamlread.Suggest(ref.ID, known))
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

// checkFloating reports points without a path to the reference through joints,
// wires, loads, the battery, the alternator or the regulator. A gap is no path:
// its point would sit at an undefined voltage.
func (r *reader) checkFloating() {
	group := map[string]string{} // a point to another of its group, up to the root
	root := func(p string) string {
		for group[p] != "" {
			p = group[p]
		}
		return p
	}
	join := func(points ...string) {
		for _, p := range points[1:] {
			if a, b := root(points[0]), root(p); a != b {
				group[b] = a
			}
		}
	}
	for _, e := range r.s.Elements {
		if e.Kind != Gap {
			join(e.From, e.To)
		}
	}
	join(r.s.Battery.Positive, r.s.Battery.Negative)
	join(r.s.Machine.Output, r.s.Machine.Case)
	join(r.s.Machine.RingA, r.s.Machine.RingB)
	join(r.s.Regulator.Supply, r.s.Regulator.Field, r.s.Regulator.Case)
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
