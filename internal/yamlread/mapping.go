package yamlread

import (
	"slices"
	"strconv"

	"go.yaml.in/yaml/v4"
)

// Map is a mapping whose keys a loader asks for one by one. The keys asked for
// are the keys it may have: Done reports all others.
type Map struct {
	f     *File
	label string // what the mapping describes, for messages: joint j-stud
	y     *yaml.Node
	pairs []Pair
	asked []string
}

// Pair is one key with its value.
type Pair struct {
	Key   string
	At    Pos
	Value Node
}

// Map reads the node as a mapping; label says what it describes. An absent
// node gives an absent map, of which nothing is required.
func (n Node) Map(label string) *Map {
	m := &Map{f: n.f, label: label}
	if !n.readable() {
		return m
	}
	if n.y.Kind != yaml.MappingNode {
		n.Add(n.the()+" must be a set of keys with values", "{key: value, …}, or one key a line")
		return m
	}
	m.y = n.y
	m.pairs = n.readPairs()
	return m
}

// readPairs collects the pairs of a mapping, reporting keys given twice and
// keys that are not words, and drops the halves that a decimal comma made.
func (n Node) readPairs() []Pair {
	var out []Pair
	first := map[string]int{}
	for i := 0; i+1 < len(n.y.Content); i += 2 {
		k, v := n.y.Content[i], n.y.Content[i+1]
		pos := Pos{File: n.f.Name, Line: k.Line, Col: k.Column}
		if k.Kind != yaml.ScalarNode || k.Value == "" {
			if k.Kind != yaml.AliasNode {
				n.f.Add(pos, "a key must be a word", "word: value")
			}
			continue
		}
		if len(out) > 0 && n.f.commaMadeKey(out[len(out)-1].Value.y, k, v) {
			out[len(out)-1].Value.bad = true
			continue
		}
		if line, twice := first[k.Value]; twice {
			n.f.Add(pos, "key "+quote(k.Value)+" is given twice, first in line "+strconv.Itoa(line), "one of them")
			continue
		}
		first[k.Value] = k.Line
		out = append(out, Pair{k.Value, pos, Node{f: n.f, y: v, name: k.Value}})
	}
	return out
}

// Label changes what messages call the mapping, once its id is known.
func (m *Map) Label(label string) { m.label = label }

// Present reports whether there was a mapping at all.
func (m *Map) Present() bool { return m.y != nil }

// Pos is where the mapping begins.
func (m *Map) Pos() Pos {
	if m.y == nil {
		return Pos{}
	}
	return Pos{File: m.f.Name, Line: m.y.Line, Col: m.y.Column}
}

// Add notes a problem with the mapping as a whole.
func (m *Map) Add(what, instead string) {
	if m.y != nil {
		m.f.Add(m.Pos(), m.label+": "+what, instead)
	}
}

// May returns the value of a key that may be left out; absent then.
func (m *Map) May(key string) Node {
	m.asked = append(m.asked, key)
	for _, p := range m.pairs {
		if p.Key == key {
			return p.Value
		}
	}
	return Node{}
}

// Need returns the value of a key that must stand there; if it does not, that
// is noted with what to write.
func (m *Map) Need(key, instead string) Node {
	n := m.May(key)
	if n.y == nil && m.y != nil {
		m.Add(key+" is missing", key+": "+instead)
		return Node{}
	}
	if n.y != nil && !n.bad && n.y.Kind == yaml.ScalarNode && n.isNull() {
		n.Add(key+" has no value", key+": "+instead)
		n.bad = true
	}
	return n
}

// Pairs returns every pair of a mapping whose keys are free, such as ids. All
// keys count as asked for.
func (m *Map) Pairs() []Pair {
	for _, p := range m.pairs {
		m.asked = append(m.asked, p.Key)
	}
	return m.pairs
}

// Note notes that the key of a pair mentions something of the given kind.
func (m *Map) Note(kind string, p Pair) { m.f.Note(kind, p.Key, p.At) }

// Single returns the pair of a mapping that has exactly one, noting nothing.
func (n Node) Single() (Pair, bool) {
	if !n.IsMap() || len(n.y.Content) != 2 {
		return Pair{}, false
	}
	k, v := n.y.Content[0], n.y.Content[1]
	if k.Kind != yaml.ScalarNode {
		return Pair{}, false
	}
	return Pair{k.Value, Pos{File: n.f.Name, Line: k.Line, Col: k.Column}, Node{f: n.f, y: v, name: k.Value}}, true
}

// Only returns the single pair of a mapping that holds one key out of a list
// of kinds, such as a log entry; absent with a problem noted otherwise.
func (m *Map) Only() (Pair, bool) {
	if m.y == nil {
		return Pair{}, false
	}
	if len(m.pairs) != 1 {
		m.Add("has "+strconv.Itoa(len(m.pairs))+" keys where one is wanted", "one key, each on its own line beginning with -")
		return Pair{}, false
	}
	return m.pairs[0], true
}

// Done reports every key that was not asked for, with the nearest one that was.
func (m *Map) Done() {
	for i := 0; i < len(m.pairs); i++ {
		p := m.pairs[i]
		if slices.Contains(m.asked, p.Key) {
			continue
		}
		if n := m.cutWords(i); n > 0 {
			i += n - 1
			continue
		}
		m.f.Add(p.At, m.label+": unknown key "+quote(p.Key), Suggest(p.Key, m.asked))
	}
}
