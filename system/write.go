package system

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"

	"chargewright/internal/layover"
)

// Writer changes figures in the text of a system file. What it is not asked to
// change stays, comments included; blank lines and the breaks of long texts are
// laid anew. It knows YAML and no more: Parse tells whether the result is a
// system.
type Writer struct {
	doc yaml.Node
	top *yaml.Node
}

// NewWriter reads the text of a system file: its own, without hook-ups that it took.
// A version of a base becomes a whole file: what it took cannot be changed
// otherwise.
func NewWriter(source []byte) (*Writer, error) {
	w := &Writer{}
	source, taken := splitTaken(source)
	if err := yaml.Load(source, &w.doc); err != nil {
		return nil, fmt.Errorf("system: %w", err)
	}
	if len(w.doc.Content) == 0 || w.doc.Content[0].Kind != yaml.MappingNode {
		return nil, fmt.Errorf("system: the file holds no keys")
	}
	w.top = w.doc.Content[0]
	if on, _ := layover.Find(w.top, "base"); on != nil && taken != nil {
		base, err := baseOf(taken, nil)
		if err != nil {
			return nil, fmt.Errorf("system: the base: %w", err)
		}
		without, _ := layover.Find(w.top, "without")
		layover.LeaveOut(base, w.top, without) // the file was read before: it has no problems
		w.top = layover.Over(base, w.top)
		for _, k := range []string{"base", "without"} {
			layover.Remove(w.top, k)
		}
		if places, _ := layover.Find(w.top, "places"); places != nil {
			for _, p := range places.Content {
				layover.Remove(p, "before") // they stand in their order now
			}
		}
		first(w.top, "format", "id", "name", "about", "volts")
		w.doc.Content[0] = w.top
	}
	return w, nil
}

// first puts keys of a mapping at its head, in this order.
func first(m *yaml.Node, keys ...string) {
	var head []*yaml.Node
	for _, k := range keys {
		if v, at := layover.Find(m, k); v != nil {
			head = append(head, m.Content[at-1], v)
			m.Content = slices.Delete(m.Content, at-1, at+1)
		}
	}
	m.Content = append(head, m.Content...)
}

// Comment replaces what stands above the first key.
func (w *Writer) Comment(text string) {
	w.doc.HeadComment, w.top.HeadComment = "", ""
	if len(w.top.Content) == 0 {
		return
	}
	var b strings.Builder
	for _, line := range strings.Split(text, "\n") {
		b.WriteString(strings.TrimRight("# "+line, " ") + "\n")
	}
	w.top.Content[0].HeadComment = strings.TrimSuffix(b.String(), "\n")
}

// Set gives a key under the keys before it a value of its own, adding what is
// missing: Set("6", "machine", "pole-pairs"). A long text is folded.
func (w *Writer) Set(value string, keys ...string) {
	at := w.top
	for _, k := range keys[:len(keys)-1] {
		at = under(at, k, func() *yaml.Node { return &yaml.Node{Kind: yaml.MappingNode, Style: at.Style} })
	}
	put(at, keys[len(keys)-1], value)
}

// After gives a key of the file a value, and stands it behind another key where
// it is new.
func (w *Writer) After(other, key, value string) {
	_, at := layover.Find(w.top, other)
	if old, _ := layover.Find(w.top, key); old != nil || at < 0 {
		put(w.top, key, value)
		return
	}
	w.top.Content = slices.Insert(w.top.Content, at+1, scalar(key), scalar(value))
}

// Item sets pairs of key and value of an item of a list, found by its id, and
// takes an empty value's key away. It reports whether there is such an item.
func (w *Writer) Item(list, id string, pairs ...string) bool {
	n, _ := layover.Find(w.top, list)
	i := layover.IndexOf(n, id)
	if i < 0 {
		return false
	}
	for k := 0; k+1 < len(pairs); k += 2 {
		if pairs[k+1] == "" {
			layover.Remove(n.Content[i], pairs[k])
			continue
		}
		put(n.Content[i], pairs[k], pairs[k+1])
	}
	return true
}

// Add puts a new item at the end of a list, on one line.
func (w *Writer) Add(list string, pairs ...string) {
	n := under(w.top, list, func() *yaml.Node { return &yaml.Node{Kind: yaml.SequenceNode} })
	item := &yaml.Node{Kind: yaml.MappingNode, Style: yaml.FlowStyle}
	for k := 0; k+1 < len(pairs); k += 2 {
		put(item, pairs[k], pairs[k+1])
	}
	n.Content = append(n.Content, item)
}

// Drop takes an item off a list.
func (w *Writer) Drop(list, id string) {
	n, _ := layover.Find(w.top, list)
	if i := layover.IndexOf(n, id); i >= 0 {
		n.Content = append(n.Content[:i:i], n.Content[i+1:]...)
	}
}

// section is the beginning of a key of the file, or of a comment above one.
var section = regexp.MustCompile(`^[a-z#]`)

// Bytes is the text with its changes.
func (w *Writer) Bytes() ([]byte, error) {
	out, err := yaml.Dump(&w.doc, yaml.WithV3Defaults(), yaml.WithIndent(2), yaml.WithLineWidth(-1))
	if err != nil {
		return nil, fmt.Errorf("system: %w", err)
	}
	// A blank line above every section that has lines of its own.
	var b bytes.Buffer
	lines := strings.Split(strings.TrimSuffix(string(out), "\n"), "\n")
	for i, line := range lines {
		indented := i > 0 && strings.HasPrefix(lines[i-1], " ")
		longer := i > 0 && i+1 < len(lines) && section.MatchString(line) && strings.HasPrefix(lines[i+1], " ") && !strings.HasPrefix(lines[i-1], "#")
		if section.MatchString(line) && indented || longer && !indented {
			b.WriteByte('\n')
		}
		b.WriteString(line + "\n")
	}
	return b.Bytes(), nil
}

// under returns the value of a key, made when there is none.
func under(m *yaml.Node, key string, made func() *yaml.Node) *yaml.Node {
	if n, _ := layover.Find(m, key); n != nil {
		return n
	}
	n := made()
	m.Content = append(m.Content, scalar(key), n)
	return n
}

func put(m *yaml.Node, key, value string) {
	n := scalar(value)
	if strings.Contains(value, "\n") || m.Style&yaml.FlowStyle == 0 && len(value) > 100 {
		n.Style = yaml.FoldedStyle
	}
	if old, at := layover.Find(m, key); old != nil {
		n.LineComment, n.FootComment = old.LineComment, old.FootComment
		m.Content[at] = n
		return
	}
	m.Content = append(m.Content, scalar(key), n)
}

// numeric are texts that stand without quotes although they could be numbers:
// counts, ratios and spreads are numbers of the file.
var numeric = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?(e[-+]?[0-9]+)?$`)

func scalar(text string) *yaml.Node {
	n := &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: text}
	if numeric.MatchString(text) {
		n.Tag = ""
	}
	return n
}
