package layover_test

import (
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"

	"chargewright/internal/layover"
)

func node(t *testing.T, text string) *yaml.Node {
	t.Helper()
	var doc yaml.Node
	if err := yaml.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	return doc.Content[0]
}

// TestOver: what each kind of value does when it is laid over another.
func TestOver(t *testing.T) {
	for _, c := range []struct{ what, base, own, want string }{
		{"a value replaces", "{a: 1, b: 2}", "{b: 3}", "{a: 1, b: 3}"},
		{"further keys come behind", "{a: 1}", "{z: 2}", "{a: 1, z: 2}"},
		{"mappings are laid key by key", "{m: {a: 1, b: 2}}", "{m: {b: 3}}", "{m: {a: 1, b: 3}}"},
		{"items of the same id", "{places: [{id: x, a: 1}, {id: y}]}", "{places: [{id: x, b: 2}]}", "{places: [{id: x, a: 1, b: 2}, {id: y}]}"},
		{"moves of the same ends", "{moves: [{from: a, to: b, say: s}]}", "{moves: [{to: b, from: a, say: t}]}", "{moves: [{from: a, to: b, say: t}]}"},
		{"rows of the same condition", "{never: [{rule: R1, when: {p: [x], q: y}, why: s}]}", "{never: [{when: {q: [y], p: x}, rule: R1, why: t}]}", "{never: [{rule: R1, when: {q: [y], p: x}, why: t}]}"},
		{"other rows are added", "{never: [{rule: R1, when: {p: x}}]}", "{never: [{rule: R1, when: {p: y}}]}", "{never: [{rule: R1, when: {p: x}}, {rule: R1, when: {p: y}}]}"},
		{"a list of ids replaces", "{cautions: [c1, c2]}", "{cautions: [c3]}", "{cautions: [c3]}"},
		{"an empty list replaces", "{cautions: [c1]}", "{cautions: []}", "{cautions: []}"},
		{"a new place stands before another", "{places: [{id: x}, {id: y}]}", "{places: [{id: z, before: y}]}", "{places: [{id: x}, {id: z, before: y}, {id: y}]}"},
		{"an id given twice stays twice, to be refused", "{places: [{id: x}]}", "{places: [{id: x}, {id: x}]}", "{places: [{id: x}, {id: x}]}"},
	} {
		out := layover.Over(node(t, c.base), node(t, c.own))
		got, want := yamlOf(t, out), yamlOf(t, node(t, c.want))
		if got != want {
			t.Errorf("%s:\n%s\nwant\n%s", c.what, got, want)
		}
	}
}

// yamlOf writes a node with its keys as they stand, in one style.
func yamlOf(t *testing.T, n *yaml.Node) string {
	t.Helper()
	plain(n)
	out, err := yaml.Marshal(n)
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out))
}

func plain(n *yaml.Node) {
	n.Style = 0
	for _, c := range n.Content {
		plain(c)
	}
}

// TestLeaveOutOfCautionsAlone: what takes cautions and no places has no place to
// leave out, and is told so.
func TestLeaveOutOfCautionsAlone(t *testing.T) {
	found := layover.LeaveOut(node(t, "{cautions: [{id: c01}]}"), node(t, "{}"), node(t, "[watch-meter]"))
	if len(found) != 1 || !strings.Contains(found[0].What, "no place") {
		t.Errorf("told %+v", found)
	}
}
