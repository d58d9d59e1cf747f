package system_test

import (
	"reflect"
	"strings"
	"testing"

	"chargewright/system"
)

// same reads a rewritten file and forgets what only says where things stood.
func same(t *testing.T, name string, data []byte) *system.System {
	t.Helper()
	s, err := system.Parse(name, data)
	if err != nil {
		t.Fatal(err)
	}
	out := *s
	out.SHA256, out.Source = [32]byte{}, nil
	return &out
}

// TestWriterLeavesTheRest: a file that is written without a change reads as
// before, for every system of the library; a changed figure changes no other.
func TestWriterLeavesTheRest(t *testing.T) {
	for _, id := range system.Library() {
		s, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		w, err := system.NewWriter(s.Source)
		if err != nil {
			t.Fatal(err)
		}
		data, err := w.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		before, after := same(t, id, s.Source), same(t, id, data)
		if !equal(before, after) {
			t.Errorf("%s does not read the same", id)
		}
		// A version of a base becomes a whole file, with that one's comments too.
		if got, want := strings.Count(string(data), "#"), strings.Count(string(s.Own()), "#"); got != want && !strings.Contains(string(s.Own()), "\nbase: ") {
			t.Errorf("%s: %d of %d comment signs left", id, got, want)
		}
		w.Item("params", "machine.flux", "median", "0.0111 V s", "spread", "1.5")
		if data, err = w.Bytes(); err != nil {
			t.Fatal(err)
		}
		after = same(t, id, data)
		for i := range after.Params {
			if p := &after.Params[i]; p.ID == "machine.flux" {
				if p.Median != 0.0111 || p.Spread != 1.5 {
					t.Errorf("%s: %+v", id, p)
				}
				*p = before.Params[i]
			}
		}
		if !equal(before, after) {
			t.Errorf("%s: another figure moved", id)
		}
	}
}

// equal compares what is read, without where it stands in the file.
func equal(a, b *system.System) bool {
	va, vb := reflect.ValueOf(*a), reflect.ValueOf(*b)
	for i := range va.NumField() {
		f := va.Type().Field(i)
		if f.IsExported() && !reflect.DeepEqual(va.Field(i).Interface(), vb.Field(i).Interface()) {
			return false
		}
	}
	return true
}

// TestWriter: what each change does to the text.
func TestWriter(t *testing.T) {
	const source = `# above
id: a
name: first # behind

params:
  # between
  - {id: p, median: 1 V, basis: memory}
  - {id: q, median: 2 V}
limits: [{id: l, low: 1 V}, {id: m, low: 2 V}]
`
	w, err := system.NewWriter([]byte(source))
	if err != nil {
		t.Fatal(err)
	}
	w.Comment("new\nabove")
	w.After("id", "arrangement", "x")
	w.After("id", "name", "second: with a colon")
	w.Set("5", "machine", "rated", "amps")
	if !w.Item("params", "p", "median", "1.5", "source", "p. 4, line 3", "basis", "") {
		t.Error("p is not found")
	}
	if w.Item("params", "nowhere", "median", "1") || w.Item("nowhere", "p", "median", "1") {
		t.Error("what is not there was changed")
	}
	w.Add("limits", "id", "n", "high", "3 V")
	w.Drop("limits", "l")
	w.Drop("limits", "nowhere")
	got, err := w.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	const want = `# new
# above
id: a
arrangement: x
name: 'second: with a colon' # behind

params:
  # between
  - {id: p, median: 1.5, source: 'p. 4, line 3'}
  - {id: q, median: 2 V}

limits: [{id: m, low: 2 V}, {id: n, high: 3 V}]

machine:
  rated:
    amps: 5
`
	if string(got) != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
	for _, text := range []string{"", "- a\n- b\n", "{a: [", "just words"} {
		if _, err := system.NewWriter([]byte(text)); err == nil {
			t.Errorf("%q was taken for a system file", text)
		}
	}
}
