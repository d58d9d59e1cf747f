package layover

import (
	"slices"

	"go.yaml.in/yaml/v4"
)

// Finding is something wrong with what is left out: the node that says it, what is
// wrong and what to write instead; Known are the ids that it could mean, when it
// means none.
type Finding struct {
	At            *yaml.Node
	What, Instead string
	Known         []string
}

// LeaveOut takes places that the vehicle has not off the hook-ups. A place that
// is not there stands for ever as its first position says: what speaks of it is
// decided by that, so that no rule gets weaker. A row of never whose place cannot
// stand so goes; a condition that always holds goes out of its row or its move.
// What could then never be done is a problem: without a watch meter nobody may
// jump the field, so the field jumper goes too.
func LeaveOut(base, own, without *yaml.Node) []Finding {
	if without == nil {
		return nil
	}
	if without.Kind == yaml.MappingNode {
		return leaveOutSections(base, own, without)
	}
	var out []Finding
	add := func(at *yaml.Node, what, instead string) {
		out = append(out, Finding{At: at, What: what, Instead: instead})
	}
	places, _ := Find(base, "places")
	laid, _ := Find(own, "places")
	gone := map[string]string{} // first positions of what is left out
	for _, n := range without.Content {
		id := n.Value
		i := IndexOf(places, id)
		switch {
		case i < 0:
			out = append(out, Finding{At: n, What: "no place of the hook-ups is called " + id, Known: idsOf(places)})
		case IndexOf(laid, id) >= 0:
			add(n, "place "+id+" is left out here and laid over under places", "one of the two")
		default:
			gone[id] = firstPosition(places.Content[i])
			places.Content = slices.Delete(places.Content, i, i+1)
		}
	}
	all := func(what, instead string) { add(without, what, instead) }
	settleNever(base, gone, all)
	settleNeeds(places, gone, all)
	return out
}

// leaveOutSections takes off what stands under an id in a section of a base:
// {points: [ign-out], faults: [coil-open]}. Places go as they do of hook-ups, and
// the drawing forgets what is no longer there.
func leaveOutSections(base, own, without *yaml.Node) []Finding {
	var out []Finding
	gone := map[string]bool{}
	for i := 0; i+1 < len(without.Content); i += 2 {
		key, ids := without.Content[i], without.Content[i+1]
		if key.Value == "places" {
			out = append(out, LeaveOut(base, own, ids)...)
			continue
		}
		list, _ := Find(base, key.Value)
		if by := sames[key.Value]; list == nil || list.Kind != yaml.SequenceNode || len(by) != 1 || by[0] != "id" {
			out = append(out, Finding{At: key, What: "the base has no list of descriptions called " + key.Value, Known: sections(base)})
			continue
		}
		laid, _ := Find(own, key.Value)
		for _, n := range ids.Content {
			k := IndexOf(list, n.Value)
			switch {
			case k < 0:
				out = append(out, Finding{At: n, What: "no item of " + key.Value + " of the base is called " + n.Value, Known: idsOf(list)})
			case IndexOf(laid, n.Value) >= 0:
				out = append(out, Finding{At: n, What: n.Value + " is left out here and laid over under " + key.Value, Instead: "one of the two"})
			default:
				list.Content = slices.Delete(list.Content, k, k+1)
				gone[key.Value+" "+n.Value] = true
			}
		}
	}
	undraw(base, gone)
	return out
}

// sections are the lists of a base that something can be left out of.
func sections(base *yaml.Node) []string {
	var out []string
	for i := 0; i+1 < len(base.Content); i += 2 {
		if by := sames[base.Content[i].Value]; len(by) == 1 && by[0] == "id" {
			out = append(out, base.Content[i].Value)
		}
	}
	return out
}

// undraw takes routes, rails and numbers off the drawing whose element or point is gone.
func undraw(base *yaml.Node, gone map[string]bool) {
	plan, _ := Find(base, "drawing")
	element := func(id string) bool {
		return gone["joints "+id] || gone["wires "+id] || gone["loads "+id] || gone["gaps "+id]
	}
	if routes, _ := Find(plan, "routes"); routes != nil {
		routes.Content = slices.DeleteFunc(routes.Content, func(r *yaml.Node) bool { return element(textOf(r, "element")) })
	}
	if rails, _ := Find(plan, "rails"); rails != nil {
		rails.Content = slices.DeleteFunc(rails.Content, func(r *yaml.Node) bool { return gone["points "+textOf(r, "point")] })
	}
	numbers, _ := Find(plan, "numbers")
	if numbers == nil {
		return
	}
	for i := 1; i < len(numbers.Content); i += 2 {
		numbers.Content[i].Content = slices.DeleteFunc(numbers.Content[i].Content, func(n *yaml.Node) bool { return gone["points "+n.Value] })
	}
}

// firstPosition is the id of how a place stands as the vehicle rolls in.
func firstPosition(p *yaml.Node) string {
	list, _ := Find(p, "positions")
	if list == nil || len(list.Content) == 0 {
		return ""
	}
	return textOf(list.Content[0], "id")
}

// idsOf lists the ids of a list's items.
func idsOf(list *yaml.Node) []string {
	var out []string
	if list != nil {
		for _, item := range list.Content {
			out = append(out, textOf(item, "id"))
		}
	}
	return out
}

// textOf is the text of a key of a mapping, empty when there is none.
func textOf(m *yaml.Node, key string) string {
	if n, _ := Find(m, key); n != nil {
		return n.Value
	}
	return ""
}

// holds reports whether a list of positions, or the one position, has a position.
func holds(n *yaml.Node, position string) bool {
	if n.Kind == yaml.ScalarNode {
		return n.Value == position
	}
	return slices.ContainsFunc(n.Content, func(c *yaml.Node) bool { return c.Value == position })
}

// settleNever decides the rows of never that speak of places that are not there.
func settleNever(base *yaml.Node, gone map[string]string, add func(what, instead string)) {
	rows, _ := Find(base, "never")
	if rows == nil {
		return
	}
	rows.Content = slices.DeleteFunc(rows.Content, func(row *yaml.Node) bool {
		when, _ := Find(row, "when")
		if when == nil {
			return false
		}
		always := ""
		for i := 0; i+1 < len(when.Content); i += 2 {
			id := when.Content[i].Value
			first, is := gone[id]
			if is && !holds(when.Content[i+1], first) {
				return true // it can never stand so
			}
			if is {
				always = id
			}
		}
		if always == "" {
			return false
		}
		for id := range gone {
			Remove(when, id)
		}
		if len(when.Content) <= 2 {
			add("without "+always+" rule "+textOf(row, "rule")+" would forbid for ever: "+plainText(when), "that place left out too, or "+always+" kept")
		}
		return false
	})
}

// settleNeeds decides the conditions of moves that speak of places that are not
// there.
func settleNeeds(places *yaml.Node, gone map[string]string, add func(what, instead string)) {
	if places == nil {
		return // the base has none
	}
	for _, p := range places.Content {
		moves, _ := Find(p, "moves")
		if moves == nil {
			continue
		}
		for _, m := range moves.Content {
			needs, _ := Find(m, "needs")
			if needs == nil {
				continue
			}
			needs.Content = slices.DeleteFunc(needs.Content, func(c *yaml.Node) bool {
				id := textOf(c, "place")
				first, is := gone[id]
				in, _ := Find(c, "in")
				if is && (in == nil || !holds(in, first)) {
					add("without "+id+" place "+textOf(p, "id")+" could never go from "+textOf(m, "from")+" to "+textOf(m, "to")+" (rule "+textOf(c, "rule")+")", "that place left out too, or "+id+" kept")
				}
				return is
			})
		}
	}
}
