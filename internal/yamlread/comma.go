package yamlread

import (
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// In a YAML list in brackets a comma parts two items: [12,6 V] is 12 and 6 V.
// Whoever writes decimal commas means one value; nothing may be guessed, so the
// reader points at it.
var (
	bareDigits = regexp.MustCompile(`^[-+]?\d+$`)
	fraction   = regexp.MustCompile(`^\d+(\s*\D*)?$`)
	hasUnit    = regexp.MustCompile(`^\d+\s*[^\d\s]`)
)

// commaMade reports whether b follows a as the digits after a decimal comma
// would: both unquoted, a of digits only, nothing but a comma between them.
func (f *File) commaMade(a, b *yaml.Node) bool {
	if a == nil || b == nil || a.Kind != yaml.ScalarNode || b.Kind != yaml.ScalarNode || a.Line != b.Line {
		return false
	}
	const quoted = yaml.DoubleQuotedStyle | yaml.SingleQuotedStyle
	if a.Style&quoted != 0 || b.Style&quoted != 0 || !bareDigits.MatchString(a.Value) || !fraction.MatchString(b.Value) {
		return false
	}
	end := a.Column + len(a.Value) // digits: one byte, one column
	return b.Column == end+1 && strings.HasPrefix(f.textAt(Pos{Line: a.Line, Col: end}), ",")
}

// addComma notes a value in two halves.
func (f *File) addComma(a, b *yaml.Node) {
	f.Add(Pos{Line: a.Line, Col: a.Column},
		a.Value+","+b.Value+" without quotes is read as two items, "+a.Value+" and "+b.Value,
		a.Value+"."+b.Value+" or, in quotes, \""+a.Value+","+b.Value+"\"")
}

// commaMadeKey reports {value: 12,6 V}, which YAML reads as value: 12 and an
// empty key "6 V".
func (f *File) commaMadeKey(value, key, empty *yaml.Node) bool {
	if empty.Kind != yaml.ScalarNode || empty.Value != "" || !f.commaMade(value, key) {
		return false
	}
	f.addComma(value, key)
	return true
}

// cutWords reports words that a comma has cut: {what: burnt, now bright} is what: burnt
// and an empty key "now bright". It returns how many keys from the i-th were made so.
func (m *Map) cutWords(i int) int {
	empty := func(k int) bool {
		v := m.pairs[k].Value.y
		return v.Kind == yaml.ScalarNode && v.Value == "" && v.Style == 0 && !slices.Contains(m.asked, m.pairs[k].Key)
	}
	if i == 0 || m.y.Style&yaml.FlowStyle == 0 || !empty(i) {
		return 0
	}
	before := m.pairs[i-1].Value.y
	if before.Kind != yaml.ScalarNode || before.Value == "" || before.Style != 0 {
		return 0
	}
	words, n := before.Value, 0
	for ; i+n < len(m.pairs) && empty(i+n); n++ {
		words += ", " + m.pairs[i+n].Key
	}
	m.f.Add(m.pairs[i].At, m.label+": a comma in braces ends a value, and "+quote(m.pairs[i].Key)+" stands behind it",
		"quotes round the words: "+m.pairs[i-1].Key+": "+quote(words))
	return n
}

// Commas reports every pair of items of a list that a decimal comma may have
// made. A loader calls it when the list has more items than it wants; it
// returns whether it found any, so that nothing is said twice.
func (n Node) Commas() bool {
	if !n.readable() || n.y.Kind != yaml.SequenceNode || n.y.Style&yaml.FlowStyle == 0 {
		return false
	}
	found := false
	for i := 0; i+1 < len(n.y.Content); i++ {
		if n.f.commaMade(n.y.Content[i], n.y.Content[i+1]) {
			n.f.addComma(n.y.Content[i], n.y.Content[i+1])
			found = true
			i++
		}
	}
	return found
}
