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
