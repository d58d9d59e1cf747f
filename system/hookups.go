package system

import (
	"bytes"
	"errors"
	"io/fs"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"

	"chargewright/internal/layover"
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
// A version of a shipped system takes all of it, and says what differs:
//
//	base: lamp-excited
//	without: {loads: [coil]}
//	params:
//	  - {id: machine.flux, median: 0.025 V s}
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

// Own is the file's own text, without the hook-ups or the base that it took.
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

// hookUps returns the file with the hook-ups that it names laid under it, or the
// whole system that is its base, and adds them to the source when they came from
// the library.
func (r *reader) hookUps(top yamlread.Node, taken []byte) yamlread.Node {
	m := top.YAML()
	if base, _ := layover.Find(m, "base"); base != nil {
		return r.onBase(top, base, taken)
	}
	name, _ := layover.Find(m, "hook-ups")
	without, _ := layover.Find(m, "without")
	if name == nil && taken != nil {
		r.f.Add(yamlread.Pos{}, "hook-ups stand behind the file and it does not name them", "hook-ups: their name")
	}
	if name == nil {
		if without != nil {
			r.f.Node(without).Add("without: leaves out what hook-ups: or base: brings, and there are none", "hook-ups: "+strings.Join(HookUps(), " or ")+", or no such key")
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
	return r.f.Node(layover.Over(base, m))
}

// leaveOut takes what without: names off what was taken, and says what it cannot.
func (r *reader) leaveOut(base, own, without *yaml.Node) {
	if without != nil && without.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(without.Content); i += 2 {
			for _, n := range r.f.Node(without.Content[i+1]).List() {
				n.Text() // says what is no id
			}
		}
	} else {
		for _, n := range r.f.Node(without).List() {
			n.Text()
		}
	}
	for _, x := range layover.LeaveOut(base, own, without) {
		if x.Known != nil {
			x.Instead = yamlread.Suggest(x.At.Value, x.Known)
		}
		r.f.Node(x.At).Add(x.What, x.Instead)
	}
}

// ownOnly are the keys of a base that a file does not take: they say what the base
// itself is.
var ownOnly = []string{"id", "name", "about", "arrangement", "hook-ups", "base", "without"}

// onBase lays the file over a whole system: base: lamp-excited. Sections, and what
// stands in them by an id, are laid over each other; without: {faults: [id]} leaves
// out what the vehicle has not.
func (r *reader) onBase(top yamlread.Node, name *yaml.Node, taken []byte) yamlread.Node {
	m := top.YAML()
	r.baseless = true
	if other, _ := layover.Find(m, "hook-ups"); other != nil {
		r.f.Node(other).Add("a file with base: has the hook-ups of its base", "base: or hook-ups:, not both")
		return top
	}
	if name.Kind != yaml.ScalarNode || taken == nil && !slices.Contains(Library(), name.Value) {
		r.f.Node(name).Add("no shipped system is called "+name.Value, yamlread.Suggest(name.Value, Library()))
		return top
	}
	r.hookAt, r.based = r.f.Node(name).Pos(), true
	var own *yaml.Node // the base's own part, where it was read already
	if taken == nil {
		text, _ := fs.ReadFile(Files(), name.Value+".yaml") // it is listed
		if taken, own = r.withHookUps(text, name); taken == nil {
			return top
		}
		r.s.Source = slices.Concat(r.s.Source, []byte(takenMark), taken)
	}
	base, err := baseOf(taken, own)
	if err != nil {
		r.f.Node(name).Add("the base that was taken cannot be read", "the file as it was, or its own part alone")
		return top
	}
	r.baseless = false
	place(base, name)
	without, _ := layover.Find(m, "without")
	r.leaveOut(base, m, without)
	return r.f.Node(layover.Over(base, m))
}

// baseOf reads a base that was taken, its own hook-ups laid under it, without what
// says only what the base itself is. Where its own part was read already, that is
// changed.
func baseOf(taken []byte, base *yaml.Node) (*yaml.Node, error) {
	own, under := splitTaken(taken)
	if base == nil {
		var err error
		if base, err = topOf(own); err != nil {
			return nil, err
		}
	}
	if under != nil {
		hooks, err := topOf(under)
		if err != nil {
			return nil, err
		}
		left, _ := layover.Find(base, "without")
		layover.LeaveOut(hooks, base, left) // the base was read before: it has no problems
		base = layover.Over(hooks, base)
	}
	for _, k := range ownOnly {
		layover.Remove(base, k)
	}
	return base, nil
}

// topOf is the mapping at the top of a text.
func topOf(text []byte) (*yaml.Node, error) {
	var doc yaml.Node
	if err := yaml.Load(text, &doc); err != nil {
		return nil, err
	}
	if len(doc.Content) == 0 || doc.Content[0].Kind != yaml.MappingNode {
		return nil, errors.New("the text holds no keys")
	}
	return doc.Content[0], nil
}

// withHookUps is the text of a shipped system with what it takes behind it, and its
// own part as it was read; nil, and a problem, where that is a base again.
func (r *reader) withHookUps(own []byte, at *yaml.Node) (text []byte, doc *yaml.Node) {
	doc, ok := r.takenDoc(own, at)
	if !ok {
		return nil, nil
	}
	if again, _ := layover.Find(doc, "base"); again != nil {
		r.f.Node(at).Add(at.Value+" has a base itself", "base: "+again.Value+", and what "+at.Value+" differs in here")
		return nil, nil
	}
	if hooks, _ := layover.Find(doc, "hook-ups"); hooks != nil {
		under, _ := fs.ReadFile(Files(), hookUpsDir+"/"+hooks.Value+".yaml") // the library's test reads every file
		return slices.Concat(own, []byte(takenMark), under), doc
	}
	return own, doc
}

// takenDoc reads the hook-ups. Messages about what stands in them name the line
// of the file that takes them, which is where they can be mended.
func (r *reader) takenDoc(taken []byte, at *yaml.Node) (*yaml.Node, bool) {
	top, err := topOf(taken)
	if err != nil {
		r.f.Node(at).Add("the hook-ups that were taken cannot be read", "the file as it was, or its own part alone")
		return nil, false
	}
	place(top, at)
	return top, true
}

// place gives a node and all below it one place.
func place(n, at *yaml.Node) {
	n.Line, n.Column = at.Line, at.Column
	for _, c := range n.Content {
		place(c, at)
	}
}
