package system

import (
	"bytes"
	"io/fs"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"

	"chargewright/internal/yamlread"
)

// What vehicles share of their switchable places, rules and cautions stands once,
// in library/hook-ups. A system file takes it by name, lays over it by id what
// differs, and leaves out the places that its vehicle has not:
//
//	hook-ups: road-car
//	without: [regulator-plug]
//	places:
//	  - id: output-lead
//	    positions: [{id: "off", sets: [{element: j-out, open: true}]}]
//
// What was taken travels with the file, behind takenMark, so that bytes pinned in
// a job mean the same for ever.
const hookUpsDir = "hook-ups"

// takenMark stands between a file's own text and the hook-ups that it took.
const takenMark = "\n--- # hook-ups as they were taken\n"

// splitTaken parts a text into what the file says itself and what it took.
func splitTaken(data []byte) (own, taken []byte) {
	own, taken, _ = bytes.Cut(data, []byte(takenMark))
	return own, taken
}

// Own is the file's own text, without the hook-ups that it took.
func (s *System) Own() []byte {
	own, _ := splitTaken(s.Source)
	return own
}

// HookUps lists the hook-ups of the library by name.
func HookUps() []string {
	names, _ := fs.Glob(Files(), hookUpsDir+"/*.yaml") // the pattern is well formed
	for i, n := range names {
		names[i] = strings.TrimSuffix(strings.TrimPrefix(n, hookUpsDir+"/"), ".yaml")
	}
	return names
}

// hookUps returns the file with the hook-ups that it names laid under it, and
// adds them to the source when they came from the library.
func (r *reader) hookUps(top yamlread.Node, taken []byte) yamlread.Node {
	m := top.YAML()
	name, _ := find(m, "hook-ups")
	without, _ := find(m, "without")
	if name == nil && taken != nil {
		r.f.Add(yamlread.Pos{}, "hook-ups stand behind the file and it does not name them", "hook-ups: their name")
	}
	if name == nil {
		if without != nil {
			r.f.Node(without).Add("without: leaves out what hook-ups: brings, and there are none", "hook-ups: "+strings.Join(HookUps(), " or ")+", or no such key")
		}
		return top
	}
	if name.Kind != yaml.ScalarNode || !slices.Contains(HookUps(), name.Value) && taken == nil {
		r.f.Node(name).Add("no hook-ups are called "+name.Value, yamlread.Suggest(name.Value, HookUps()))
		return top
	}
	if taken == nil {
		taken, _ = fs.ReadFile(Files(), hookUpsDir+"/"+name.Value+".yaml") // it is listed
		r.s.Source = slices.Concat(r.s.Source, []byte(takenMark), taken)
	}
	r.hookAt = r.f.Node(name).Pos()
	base, ok := r.takenDoc(taken, name)
	if !ok {
		return top
	}
	r.leaveOut(base, m, without)
	return r.f.Node(layOver(base, m))
}

// takenDoc reads the hook-ups. Messages about what stands in them name the line
// of the file that takes them, which is where they can be mended.
func (r *reader) takenDoc(taken []byte, at *yaml.Node) (*yaml.Node, bool) {
	var doc yaml.Node
	if err := yaml.Load(taken, &doc); err != nil || len(doc.Content) == 0 || doc.Content[0].Kind != yaml.MappingNode {
		r.f.Node(at).Add("the hook-ups that were taken cannot be read", "the file as it was, or its own part alone")
		return nil, false
	}
	place(doc.Content[0], at)
	return doc.Content[0], true
}

// place gives a node and all below it one place.
func place(n, at *yaml.Node) {
	n.Line, n.Column = at.Line, at.Column
	for _, c := range n.Content {
		place(c, at)
	}
}

// sames says by which keys an item of a list is that of another list. Items of
// other lists are never the same: such a list replaces the other.
var sames = map[string][]string{
	"places":    {"id"},
	"positions": {"id"},
	"moves":     {"from", "to"},
	"never":     {"rule", "when"},
	"cautions":  {"id"},
}

// layOver lays a mapping over another, key by key.
func layOver(base, own *yaml.Node) *yaml.Node {
	out := *own
	out.Content = nil
	for i := 0; i+1 < len(base.Content); i += 2 {
		key, under := base.Content[i], base.Content[i+1]
		over, at := find(own, key.Value)
		if over == nil {
			out.Content = append(out.Content, key, under)
			continue
		}
		out.Content = append(out.Content, own.Content[at-1], layNode(key.Value, under, over))
	}
	for i := 0; i+1 < len(own.Content); i += 2 {
		if under, _ := find(base, own.Content[i].Value); under == nil {
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
		return layOver(base, own)
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
		if before, _ := find(item, "before"); before != nil {
			if j := indexOf(&out, before.Value); j >= 0 {
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
		v, _ := find(item, k)
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
