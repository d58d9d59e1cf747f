// Package layover lays one YAML file over another, for files that take what they
// share: mappings key by key, lists of descriptions item by item. It also leaves
// out places of hook-ups. It works on the library's nodes and reads no values: what
// they mean, and whether they are right, is for the reader of the result.
//
// Open over.go for laying over, without.go for leaving out.
package layover

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// sames says by which keys an item of a list is that of another list. Items of
// other lists are never the same: such a list replaces the other.
var sames = map[string][]string{
	"places":    {"id"},
	"positions": {"id"},
	"moves":     {"from", "to"},
	"never":     {"rule", "when"},
	"cautions":  {"id"},
	// what a version of a whole system lays over its base
	"points": {"id"},
	"joints": {"id"},
	"wires":  {"id"},
	"loads":  {"id"},
	"gaps":   {"id"},
	"params": {"id"},
	"limits": {"id"},
	"faults": {"id"},
	"routes": {"element"},
	"rails":  {"point"},
}

// Over lays a mapping over another, key by key.
func Over(base, own *yaml.Node) *yaml.Node {
	out := *own
	out.Content = nil
	for i := 0; i+1 < len(base.Content); i += 2 {
		key, under := base.Content[i], base.Content[i+1]
		over, at := Find(own, key.Value)
		if over == nil {
			out.Content = append(out.Content, key, under)
			continue
		}
		out.Content = append(out.Content, own.Content[at-1], layNode(key.Value, under, over))
	}
	for i := 0; i+1 < len(own.Content); i += 2 {
		if under, _ := Find(base, own.Content[i].Value); under == nil {
			out.Content = append(out.Content, own.Content[i], own.Content[i+1])
		}
	}
	return &out
}

func layNode(key string, base, own *yaml.Node) *yaml.Node {
	switch {
	case base.Kind != own.Kind:
		return own
	case own.Kind == yaml.MappingNode && key != "when":
		return Over(base, own)
	case own.Kind == yaml.SequenceNode && sames[key] != nil && ofItems(own):
		return layList(base, own, sames[key])
	}
	return own
}

// ofItems reports whether a list holds descriptions; a list of ids, or an empty
// one, replaces the other.
func ofItems(list *yaml.Node) bool {
	return len(list.Content) > 0 && list.Content[0].Kind == yaml.MappingNode
}

// layList lays a list over another: an item that is the same as one of the
// other's is laid over it; further ones come behind, or where before: says.
func layList(base, own *yaml.Node, keys []string) *yaml.Node {
	out := *own
	out.Content = slices.Clone(base.Content)
	laid := map[int]bool{}
	for _, item := range own.Content {
		i := slices.IndexFunc(base.Content, func(b *yaml.Node) bool { return identity(b, keys) == identity(item, keys) })
		if i >= 0 && !laid[i] && identity(item, keys) != "" {
			laid[i] = true
			j := slices.Index(out.Content, base.Content[i])
			out.Content[j] = layNode("", base.Content[i], item)
			continue
		}
		at := len(out.Content)
		if before, _ := Find(item, "before"); before != nil {
			if j := IndexOf(&out, before.Value); j >= 0 {
				at = j
			}
		}
		out.Content = slices.Insert(out.Content, at, item)
	}
	return &out
}

// identity is what an item is known by; empty when it has none of it.
func identity(item *yaml.Node, keys []string) string {
	var b strings.Builder
	for _, k := range keys {
		v, _ := Find(item, k)
		if v == nil {
			return ""
		}
		b.WriteString(plainText(v) + "\n")
	}
	return b.String()
}

// plainText writes a value so that the same value gives the same text: one item
// stands for a list of one, keys are in order.
func plainText(n *yaml.Node) string {
	var parts []string
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			parts = append(parts, n.Content[i].Value+": "+plainText(n.Content[i+1]))
		}
		slices.Sort(parts)
	case yaml.SequenceNode:
		for _, c := range n.Content {
			parts = append(parts, plainText(c))
		}
	default:
		return n.Value
	}
	return strings.Join(parts, ", ")
}

// Find returns the value of a key of a mapping and where it stands, nil and -1
// when there is none.
func Find(m *yaml.Node, key string) (*yaml.Node, int) {
	if m != nil && m.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(m.Content); i += 2 {
			if m.Content[i].Value == key {
				return m.Content[i+1], i + 1
			}
		}
	}
	return nil, -1
}

// Remove takes a key and its value off a mapping.
func Remove(m *yaml.Node, key string) {
	if _, at := Find(m, key); at >= 0 {
		m.Content = slices.Delete(m.Content, at-1, at+1)
	}
}

// IndexOf finds an item of a list by its id, -1 when there is none.
func IndexOf(list *yaml.Node, id string) int {
	if list == nil || list.Kind != yaml.SequenceNode {
		return -1
	}
	return slices.IndexFunc(list.Content, func(item *yaml.Node) bool {
		v, _ := Find(item, "id")
		return v != nil && v.Value == id
	})
}
