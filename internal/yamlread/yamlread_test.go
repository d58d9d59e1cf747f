package yamlread_test

import (
	"strings"
	"testing"

	"chargewright/internal/badfile"
	"chargewright/internal/yamlread"
	"chargewright/unit"
)

// readThing is a loader of a small made-up format that uses every reader.
func readThing(name string, data []byte) error {
	f, top := yamlread.Open(name, data)
	m := top.Map("thing")
	m.May("id").ID()
	m.May("text").Text()
	m.May("number").Number(yamlread.Share)
	m.May("count").Count(yamlread.FromOne)
	m.May("ohms").Quantity(unit.Ohm, yamlread.Positive)
	m.May("word").OneOf("median", "spread", "basis")
	m.May("yes").Yes()
	m.May("per").Leading("jobs", yamlread.Positive)
	for _, n := range m.May("volts").List() {
		n.Quantity(unit.Volt)
	}
	pair := m.May("pair")
	if items := pair.List(); pair.IsList() && len(items) != 2 && !pair.Commas() {
		pair.Add("pair must have two items", "[1, 2]")
	}
	inner := m.May("inner").Map("inner")
	inner.Need("volts", "12 V").Quantity(unit.Volt)
	inner.Done()
	m.May("any").Any()
	for _, n := range m.May("one-or-many").Items() {
		n.Text()
	}
	m.Done()
	return f.Err()
}

func TestBadFiles(t *testing.T) { badfile.Run(t, "testdata/bad", readThing) }

func TestGoodFile(t *testing.T) {
	good := `
id: j-stud
text: "12,5"
number: 0.5
count: 3
ohms: 0,5 mΩ
word: spread
yes: on
per: 100 jobs
volts: [12 V, "12,6 V", 13.8 V]
pair: [1, 2]
inner: {volts: 12 V}
any: 1250 rpm
one-or-many: off
`
	if err := readThing("good.yaml", []byte(good)); err != nil {
		t.Error(err)
	}
}

// On and off stay words: what stands in the file is what is read.
func TestOnOffStayWords(t *testing.T) {
	_, top := yamlread.Open("f", []byte("a: off\nb: on\nc: true\nd: \"off\"\non: x\n"))
	m := top.Map("f")
	for key, want := range map[string]string{"a": "off", "b": "on", "c": "true", "d": "off", "on": "x"} {
		if got := m.May(key).Text(); got != want {
			t.Errorf("%s reads %q, want %q", key, got, want)
		}
	}
}

func TestNearest(t *testing.T) {
	known := []string{"median", "spread", "between", "basis", "source", "a", "ohms"}
	for _, c := range []struct{ word, want string }{
		{"meadian", "median"}, // a letter too many
		{"mdeian", "median"},  // two swapped
		{"Median", "median"},
		{"spreed", "spread"},
		{"betwin", "between"},
		{"ohm", "ohms"},
		{"resistance", ""}, // nothing near
		{"sou", "source"},  // begun
		{"x", ""},          // one letter tells nothing
	} {
		if got := yamlread.Nearest(c.word, known); got != c.want {
			t.Errorf("nearest to %q is %q, want %q", c.word, got, c.want)
		}
	}
	if got := yamlread.Suggest("resistance", []string{"b", "a"}); got != "one of a, b" {
		t.Errorf("suggestion %q", got)
	}
	if got := yamlread.Suggest("x", nil); !strings.Contains(got, "nothing") {
		t.Errorf("suggestion out of nothing: %q", got)
	}
}

// A file too large is refused before it is parsed.
func TestTooLarge(t *testing.T) {
	f, _ := yamlread.Open("f", make([]byte, yamlread.MaxBytes+1))
	if f.Err() == nil {
		t.Error("a file over the bound was read")
	}
}

func FuzzOpen(f *testing.F) {
	for _, s := range []string{
		"a: 1", "- [1,2", "? [a]: b", "a: &x *x", "&a [*a]", "a: !!str b", "%YAML 1.2\n---\n", "\xff", "a: {b: 12,6 V}",
		"volts: [12,6 V]", "pair: [1,2,3]", "id: \"\"", "inner: {}", "any: ~", "number: 1e999", "count: -1e300",
		strings.Repeat("[", 200), strings.Repeat("a: ", 3) + "b",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		err := readThing("f", data)
		if err != nil && err.Error() == "" {
			t.Error("a refusal without words")
		}
	})
}
