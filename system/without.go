package system

import (
	"slices"

	"go.yaml.in/yaml/v4"

	"chargewright/internal/yamlread"
)

// leaveOut takes places that the vehicle has not off the hook-ups. A place that
// is not there stands for ever as its first position says: what speaks of it is
// decided by that, so that no rule gets weaker. A row of never whose place cannot
// stand so goes; a condition that always holds goes out of its row or its move.
// What could then never be done is a problem: without a watch meter nobody may
// jump the field, so the field jumper goes too.
func (r *reader) leaveOut(base, own, without *yaml.Node) {
	if without == nil {
		return
	}
	places, _ := find(base, "places")
	laid, _ := find(own, "places")
	gone := map[string]string{} // first positions of what is left out
	list := r.f.Node(without)
	for _, n := range list.List() {
		id := n.Text()
		i := indexOf(places, id)
		switch {
		case id == "":
		case i < 0:
			n.Add("no place of the hook-ups is called "+id, yamlread.Suggest(id, idsOf(places)))
		case indexOf(laid, id) >= 0:
			n.Add("place "+id+" is left out here and laid over under places", "one of the two")
		default:
			gone[id] = firstPosition(places.Content[i])
			places.Content = slices.Delete(places.Content, i, i+1)
		}
	}
	settleNever(base, gone, list)
	settleNeeds(places, gone, list)
}

// firstPosition is the id of how a place stands as the vehicle rolls in.
func firstPosition(p *yaml.Node) string {
	list, _ := find(p, "positions")
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
	if n, _ := find(m, key); n != nil {
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
func settleNever(base *yaml.Node, gone map[string]string, without yamlread.Node) {
	rows, _ := find(base, "never")
	if rows == nil {
		return
	}
	rows.Content = slices.DeleteFunc(rows.Content, func(row *yaml.Node) bool {
		when, _ := find(row, "when")
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
			remove(when, id)
		}
		if len(when.Content) <= 2 {
			without.Add("without "+always+" rule "+textOf(row, "rule")+" would forbid for ever: "+plainText(when), "that place left out too, or "+always+" kept")
		}
		return false
	})
}

// settleNeeds decides the conditions of moves that speak of places that are not
// there.
func settleNeeds(places *yaml.Node, gone map[string]string, without yamlread.Node) {
	for _, p := range places.Content {
		moves, _ := find(p, "moves")
		if moves == nil {
			continue
		}
		for _, m := range moves.Content {
			needs, _ := find(m, "needs")
			if needs == nil {
				continue
			}
			needs.Content = slices.DeleteFunc(needs.Content, func(c *yaml.Node) bool {
				id := textOf(c, "place")
				first, is := gone[id]
				in, _ := find(c, "in")
				if is && (in == nil || !holds(in, first)) {
					without.Add("without "+id+" place "+textOf(p, "id")+" could never go from "+textOf(m, "from")+" to "+textOf(m, "to")+" (rule "+textOf(c, "rule")+")", "that place left out too, or "+id+" kept")
				}
				return is
			})
		}
	}
}
