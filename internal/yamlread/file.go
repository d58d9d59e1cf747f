// Package yamlread walks a YAML file node by node and collects every problem it
// meets, each with file, line, column, what is wrong and what to write instead.
// The loaders of systems, procedures, practice figures and job files stand on it.
//
// It refuses what a reader of the file could misread: anchors and aliases, tags,
// several documents, keys given twice, keys nobody asked for. It never fills in
// a value: an absent key reads as zero and the loader decides what that means.
//
// Open mapping.go for how a loader asks for keys, node.go for how it reads one
// value, comma.go for the decimal comma that YAML turns into two items.
package yamlread

import (
	"errors"
	"strings"

	"go.yaml.in/yaml/v4"

	"chargewright/problem"
)

// MaxBytes is the largest file that is read. The largest shipped file is under
// a tenth of it; the bound keeps a wrong file from costing minutes.
const MaxBytes = 4 << 20

// Pos is a place in a file, both counted from 1; 0 = the file as a whole.
type Pos struct {
	File      string
	Line, Col int
}

// Ref is a mention of something by its id, with where it stands. Loaders note
// them as they read, so that mentions across files can be checked afterwards.
type Ref struct {
	Kind, ID string
	Pos
}

// File is one file being read.
type File struct {
	Name  string
	lines []string
	list  problem.List
	found int // problems, also those beyond the ones kept
	refs  []Ref

	runesOf int // line whose runes are held
	runes   []rune
}

// mostProblems is how many problems are kept of one file: a file with more is
// not what it was taken for.
const mostProblems = 500

// Open parses the file and returns its top node, which is absent when the text
// is not YAML; the problems then say why.
func Open(name string, data []byte) (*File, Node) {
	f := &File{Name: name}
	if len(data) > MaxBytes {
		f.Add(Pos{}, "the file is larger than 4 MiB", "a smaller file")
		return f, Node{}
	}
	f.lines = strings.Split(string(data), "\n")
	var doc yaml.Node
	if err := yaml.Load(data, &doc); err != nil {
		f.addSyntax(err)
		return f, Node{}
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) == 0 {
		f.Add(Pos{Line: 1, Col: 1}, "the file is empty", "format: 1 as the first line")
		return f, Node{}
	}
	f.refuseShortcuts(&doc)
	return f, Node{f: f, y: doc.Content[0]}
}

// addSyntax turns the YAML library's report into one problem. YAML cannot be
// read on past it, so there is only ever one.
func (f *File) addSyntax(err error) {
	var one *yaml.LoadError
	if !errors.As(err, &one) {
		f.Add(Pos{Line: 1, Col: 1}, "this is not YAML: "+err.Error(), "a file like the examples")
		return
	}
	pos := Pos{Line: one.Mark.Line, Col: one.Mark.Column}
	switch {
	case strings.Contains(one.Message, "no documents"):
		f.Add(Pos{Line: 1, Col: 1}, "the file is empty", "format: 1 as the first line")
	case strings.Contains(one.Message, "multiple"):
		f.Add(f.secondDocument(), "a second document begins here",
			"one document a file, without the line ---")
	case strings.Contains(one.Message, "cannot start any token") && strings.Contains(f.textAt(pos), "\t"):
		f.Add(pos, "a tab where YAML wants spaces", "two spaces for each step of indentation")
	case strings.Contains(one.Message, "mapping values are not allowed"):
		f.Add(pos, "a colon where none is expected", "the text in quotes, if the colon belongs to it; key: value on a line of its own otherwise")
	default:
		what := "this is not YAML: " + one.Message
		if one.ContextMsg != "" {
			what += " (" + one.ContextMsg + ")"
		}
		f.Add(pos, what, "brackets and quotes that close, and even indentation, here and in the line above")
	}
}

// secondDocument finds the line that begins a second document.
func (f *File) secondDocument() Pos {
	content := false
	for i, line := range f.lines {
		text := strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(line, "---") && content:
			return Pos{Line: i + 1, Col: 1}
		case text != "" && !strings.HasPrefix(text, "#") && !strings.HasPrefix(text, "---") && !strings.HasPrefix(text, "%"):
			content = true
		}
	}
	return Pos{Line: 1, Col: 1}
}

// refuseShortcuts reports anchors, aliases and tags: the same value must be
// readable where it stands.
func (f *File) refuseShortcuts(n *yaml.Node) {
	pos := Pos{Line: n.Line, Col: n.Column}
	switch {
	case n.Kind == yaml.AliasNode:
		f.Add(pos, "an alias (*"+n.Value+") is not read", "the value itself")
		return // its target may be its parent
	case n.Anchor != "":
		f.Add(pos, "an anchor (&"+n.Anchor+") is not read", "the value itself, wherever it is needed")
	case n.Style&yaml.TaggedStyle != 0:
		f.Add(pos, "a tag ("+n.Tag+") is not read", "the value alone")
	}
	for _, c := range n.Content {
		f.refuseShortcuts(c)
	}
}

// Add notes a problem. The file's own name is filled in.
func (f *File) Add(at Pos, what, instead string) {
	f.found++
	if f.found > mostProblems {
		return
	}
	f.list.Add(problem.Problem{File: f.Name, Line: at.Line, Col: at.Col, What: what, Instead: instead})
}

// Problems returns all problems so far, in the order they were met.
func (f *File) Problems() problem.List { return f.list }

// Note notes a mention that is a key rather than a value.
func (f *File) Note(kind, id string, at Pos) {
	at.File = f.Name
	f.refs = append(f.refs, Ref{Kind: kind, ID: id, Pos: at})
}

// Err returns the problems in the order of the file, or nil.
func (f *File) Err() error {
	f.list.Sort()
	return f.list.Err()
}

// Refs returns every mention noted with Note and Node.Ref.
func (f *File) Refs() []Ref { return f.refs }

// textAt returns the next few letters of the line from a place on.
func (f *File) textAt(p Pos) string {
	if p.Line < 1 || p.Line > len(f.lines) || p.Col < 1 {
		return ""
	}
	if f.runesOf != p.Line {
		f.runesOf, f.runes = p.Line, []rune(f.lines[p.Line-1])
	}
	if p.Col > len(f.runes) {
		return ""
	}
	return string(f.runes[p.Col-1 : min(p.Col+7, len(f.runes))])
}
