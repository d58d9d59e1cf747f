package yamlread

import (
	"errors"
	"math"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"

	"chargewright/unit"
)

// Node is one value of the file. The zero Node is absent: reading it gives
// zero values and no problem, so that one missing key is reported once.
type Node struct {
	f    *File
	y    *yaml.Node
	name string // the key it stands under
	bad  bool   // its problem is noted already
}

// Present reports whether the value stands in the file.
func (n Node) Present() bool { return n.y != nil }

// readable reports whether the value can be read at all.
func (n Node) readable() bool { return n.y != nil && !n.bad && n.y.Kind != yaml.AliasNode }

// Pos is where the value stands.
func (n Node) Pos() Pos {
	if n.y == nil {
		return Pos{}
	}
	return Pos{File: n.f.Name, Line: n.y.Line, Col: n.y.Column}
}

// Add notes a problem at the value.
func (n Node) Add(what, instead string) {
	if n.y != nil {
		n.f.Add(n.Pos(), what, instead)
	}
}

// Ref notes that the value mentions something of the given kind.
func (n Node) Ref(kind string) string {
	id := n.Text()
	if id != "" {
		n.f.Note(kind, id, n.Pos())
	}
	return id
}

// RefIn notes a mention that only means something within another, as owner/id.
func (n Node) RefIn(kind, owner string) string {
	id := n.Text()
	if id != "" {
		n.f.Note(kind, owner+"/"+id, n.Pos())
	}
	return id
}

// Problems counts the problems of the file so far.
func (n Node) Problems() int {
	if n.f == nil {
		return 0
	}
	return n.f.found
}

// the names the value in a message.
func (n Node) the() string {
	if n.name == "" {
		return "this"
	}
	return n.name
}

func (n Node) isNull() bool { return n.y.Kind == yaml.ScalarNode && n.y.Tag == "!!null" }

// IsMap and IsList tell the shape of a value that may have several.
func (n Node) IsMap() bool { return n.readable() && n.y.Kind == yaml.MappingNode }

// IsList tells whether the value is a list.
func (n Node) IsList() bool { return n.readable() && n.y.Kind == yaml.SequenceNode }

// scalar returns the text of a single value as it is written: on, off, true and
// 1250 are text like any other.
func (n Node) scalar() (string, bool) {
	if !n.readable() {
		return "", false
	}
	if n.y.Kind != yaml.ScalarNode {
		n.Add(n.the()+" must be a single value", n.the()+": value")
		return "", false
	}
	if n.isNull() {
		n.Add(n.the()+" has no value", "a value, or leave the key out")
		return "", false
	}
	return strings.TrimSpace(n.y.Value), true
}

// Text reads words. They must not be empty.
func (n Node) Text() string {
	s, ok := n.scalar()
	if ok && s == "" {
		n.Add(n.the()+" is empty", "words, or leave the key out")
	}
	return s
}

var idForm = regexp.MustCompile(`^[a-z0-9][a-z0-9.-]*$`)

// ID reads an id: lower-case letters, digits, hyphens and dots.
func (n Node) ID() string {
	s := n.Text()
	if s != "" && !idForm.MatchString(s) {
		n.Add(quote(s)+" cannot be an id: lower-case letters, digits and hyphens", idOf(s))
		return ""
	}
	return s
}

func idOf(s string) string {
	out := strings.Trim(regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(strings.ToLower(s), "-"), "-")
	if out == "" {
		return "j-stud"
	}
	return out
}

// OneOf reads a word out of a list.
func (n Node) OneOf(known ...string) string {
	s := n.Text()
	if s == "" {
		return ""
	}
	for _, k := range known {
		if s == k {
			return s
		}
	}
	n.Add(n.the()+" "+quote(s)+" is not known", Suggest(s, known))
	return ""
}

// Yes reads a truth value.
func (n Node) Yes() bool {
	s, ok := n.scalar()
	if !ok {
		return false
	}
	switch strings.ToLower(s) {
	case "true", "yes", "on":
		return true
	case "false", "no", "off":
		return false
	}
	n.Add(n.the()+" "+quote(s)+" is neither true nor false", "true or false")
	return false
}

// Number reads a bare number: a count, a ratio, a probability, a share. Only
// plain decimal notation; no unit, no percent, no hexadecimal, no infinity.
func (n Node) Number(rules ...Rule) float64 {
	return n.bare("is not a number", "a bare number such as 0.5, without a unit", rules)
}

func (n Node) bare(what, instead string, rules []Rule) float64 {
	s, ok := n.scalar()
	if !ok {
		return 0
	}
	v, ok := number(s)
	if !ok {
		n.Add(n.the()+" "+quote(s)+" "+what, instead)
		return 0
	}
	return n.hold(v, s, rules)
}

// Leading reads a number in front of a word that only explains it: 100 jobs.
func (n Node) Leading(word string, rules ...Rule) float64 {
	s, ok := n.scalar()
	if !ok {
		return 0
	}
	v, ok := number(strings.TrimSpace(strings.TrimSuffix(s, word)))
	if !ok {
		n.Add(n.the()+" "+quote(s)+" is not a number of "+word, "100 "+word)
		return 0
	}
	return n.hold(v, s, rules)
}

// Count reads a whole number.
func (n Node) Count(rules ...Rule) int {
	v := n.bare("is not a whole number", "a whole number such as 2, without a unit", rules)
	if v != math.Trunc(v) || math.Abs(v) > 1e9 {
		n.Add(n.the()+" must be a whole number", strconv.FormatFloat(math.Round(math.Mod(v, 1e9)), 'f', 0, 64))
		return 0
	}
	return int(v)
}

func number(s string) (float64, bool) {
	if s == "" || strings.Trim(s, "0123456789.+-eE") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, false
	}
	return v, true
}

// Quantity reads a number with its unit and returns it in SI.
func (n Node) Quantity(d unit.Dim, rules ...Rule) float64 {
	s, ok := n.scalar()
	if !ok {
		return 0
	}
	v, err := unit.Parse(d, s)
	if err != nil {
		n.Refuse(err)
		return 0
	}
	return n.hold(v, s, rules)
}

// Any reads a quantity of whichever kind it is written in.
func (n Node) Any() (float64, unit.Dim, bool) {
	s, ok := n.scalar()
	if !ok {
		return 0, unit.One, false
	}
	v, dim, err := unit.ParseAny(s)
	if err != nil {
		n.Refuse(err)
		return 0, unit.One, false
	}
	return v, dim, true
}

// Refuse notes why a quantity was not taken.
func (n Node) Refuse(err error) {
	var r *unit.Refusal
	if errors.As(err, &r) {
		n.Add(n.the()+" "+quote(r.Given)+" "+r.What, r.Instead)
		return
	}
	n.Add(n.the()+": "+err.Error(), "a number with its unit")
}

// hold applies the rules and notes the first that is broken.
func (n Node) hold(v float64, written string, rules []Rule) float64 {
	for _, r := range rules {
		if !r.holds(v) {
			n.Add(n.the()+" "+written+" is out of range", "a value "+r.words)
			n.bad = true
			return 0
		}
	}
	return v
}

// List reads the items of a list.
func (n Node) List() []Node {
	if !n.readable() {
		return nil
	}
	if n.y.Kind != yaml.SequenceNode {
		n.Add(n.the()+" must be a list", "[item, item], or one item a line beginning with -")
		return nil
	}
	var out []Node
	for i := 0; i < len(n.y.Content); i++ {
		item := Node{f: n.f, y: n.y.Content[i], name: n.name}
		if n.y.Style&yaml.FlowStyle != 0 && i+1 < len(n.y.Content) {
			next := n.y.Content[i+1]
			if n.f.commaMade(item.y, next) && hasUnit.MatchString(next.Value) {
				n.f.addComma(item.y, next)
				item.bad = true
				i++
			}
		}
		out = append(out, item)
	}
	return out
}

// Items reads a list, or a single value as a list of one.
func (n Node) Items() []Node {
	if n.readable() && n.y.Kind == yaml.ScalarNode && !n.isNull() {
		return []Node{n}
	}
	return n.List()
}

// Texts reads a list of words.
func (n Node) Texts() []string {
	var out []string
	for _, item := range n.List() {
		if s := item.Text(); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// Rule is a bound on a number.
type Rule struct {
	words string
	holds func(float64) bool
}

// The bounds loaders use.
var (
	Positive    = Rule{"greater than 0", func(v float64) bool { return v > 0 }}
	NotNegative = Rule{"0 or more", func(v float64) bool { return v >= 0 }}
	Share       = Rule{"between 0 and 1", func(v float64) bool { return v >= 0 && v <= 1 }}
	FromOne     = Rule{"1 or more", func(v float64) bool { return v >= 1 }}
)

// Within bounds a number, both ends allowed.
func Within(lo, hi float64, words string) Rule {
	return Rule{words, func(v float64) bool { return v >= lo && v <= hi }}
}

func quote(s string) string { return strconv.Quote(s) }

// YAML is the value as the YAML library holds it, for loaders that lay one file
// over another; nil when absent.
func (n Node) YAML() *yaml.Node { return n.y }

// Node makes a value of the file out of what the YAML library holds.
func (f *File) Node(y *yaml.Node) Node { return Node{f: f, y: y} }
