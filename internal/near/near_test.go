package near

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestWithin(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		got, want float64
		tol       Tol
		within    bool
	}{
		{1, 1, Tol{}, true},
		{1.0009, 1, Tol{Rel: 1e-3}, true},
		{1.0011, 1, Tol{Rel: 1e-3}, false},
		{-1.0011, -1, Tol{Rel: 1e-3}, false},
		{1e-9, 0, Tol{Rel: 1}, false}, // a share of nothing is nothing
		{1e-9, 0, Tol{Abs: 1e-8}, true},
		{nan, 1, Tol{Abs: 1e9}, false},
		{1, nan, Tol{Abs: 1e9}, false},
		{nan, nan, Tol{Abs: 1e9}, false},
		{inf, inf, Tol{}, true},
		{inf, -inf, Tol{Rel: 1}, false},
		{inf, 1, Tol{Abs: inf}, false},
	} {
		if got := c.tol.Within(c.got, c.want); got != c.within {
			t.Errorf("%+v.Within(%g, %g) = %v", c.tol, c.got, c.want, got)
		}
	}
}

func TestSourced(t *testing.T) {
	for source, want := range map[string]bool{
		"closed form: V = I R":    true,
		"table: handbook, p. 12":  true,
		"program: ngspice 39.3":   true,
		"common practice":         true,
		"common practice: 0.2 V":  true,
		"memory":                  true,
		"golden: first good run":  true,
		"":                        false,
		"closed form:":            false,
		"program: ":               false,
		"it was so the last time": false,
	} {
		if Sourced(source) != want {
			t.Errorf("Sourced(%q) = %v", source, !want)
		}
	}
}

// notes stands in for a test and keeps what it would have reported.
type notes struct {
	testing.TB
	errors, logs []string
}

func (n *notes) Helper() {}

func (n *notes) Errorf(format string, args ...any) {
	n.errors = append(n.errors, fmt.Sprintf(format, args...))
}

func (n *notes) Logf(format string, args ...any) {
	n.logs = append(n.logs, fmt.Sprintf(format, args...))
}

func TestCheckReports(t *testing.T) {
	good, off, unsourced := &notes{TB: t}, &notes{TB: t}, &notes{TB: t}
	Check(good, "volts", 14.2, 14.2, Tol{}, "memory")
	Check(off, "volts", 14.3, 14.2, Tol{Rel: 1e-3}, "memory")
	Check(unsourced, "volts", 14.2, 14.2, Tol{}, "")
	if len(good.errors) != 0 || len(off.errors) != 1 || len(unsourced.errors) != 1 {
		t.Errorf("reports: good %q, off %q, unsourced %q", good.errors, off.errors, unsourced.errors)
	}
}

func TestCompare(t *testing.T) {
	tol := Tol{Rel: 1e-2}
	for _, c := range []struct {
		name, got, want string
		moved, words    int
	}{
		{"the same", "14.20 V at 3 points", "14.20 V at 3 points", 0, 0},
		{"within", "14.21 V, -0.1005 A", "14.20 V, -0.100 A", 0, 0},
		{"a number moved", "14.40 V, 0.1 A", "14.20 V, 0.1 A", 1, 0},
		{"a sign", "-14.20 V", "14.20 V", 1, 0},
		{"an exponent", "1.000e-6", "1.001e-6", 0, 0},
		{"whole on one side", "20", "20.01", 0, 0},
		{"JSON", `{"volts":14.21,"id":"a1"}`, `{"volts":14.20,"id":"a1"}`, 0, 0},
		{"a unit without space", "14.21V", "14.20V", 0, 0},
		{"a count", "1001 jobs", "1000 jobs", 0, 1},
		{"a rule's id", "see R1000", "see R1001", 0, 1},
		{"a date", "2026-01-31", "2026-01-30", 0, 1},
		{"a version", "39.3.1", "39.3.0", 0, 1},
		{"a word", "14.20 A", "14.20 V", 0, 1},
		{"a number for a word", "none", "0.0", 0, 1},
		{"a line more", "a\nb", "a", 0, 1},
		{"a line less", "a", "a\nb", 0, 1},
		{"not a number", "NaN V", "0.1 V", 0, 1},
	} {
		d := Compare(c.got, c.want, tol)
		if d.Moved != c.moved || d.Words != c.words {
			t.Errorf("%s: moved %d, words %d; want %d, %d\n%s", c.name, d.Moved, d.Words, c.moved, c.words, d)
		}
	}
}

// TestGolden walks the life of a golden file in a module of its own.
func TestGolden(t *testing.T) {
	t.Chdir(t.TempDir())
	put := func(name, text string) {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put("go.mod", "module m\n")
	put("CHANGELOG.md", "## [Unreleased]\n- nothing yet\n\n## [0.1.0]\n- volts.txt was new\n")
	path := filepath.Join("testdata", "volts.txt")
	before := *update
	t.Cleanup(func() { *update = before })

	for _, step := range []struct {
		name   string
		update bool
		got    string
		says   string // "" = no report
		stored string // afterwards
	}{
		{"no file", false, "14.20 V", "no golden file", ""},
		{"made", true, "14.20 V", "", "14.20 V"},
		{"the same", false, "14.20 V", "", "14.20 V"},
		{"within", false, "14.21 V", "", "14.20 V"},
		{"moved", false, "14.90 V", "differs", "14.20 V"},
		{"a word", false, "14.20 A", "differs", "14.20 V"},
		{"a word updated", true, "14.20 A", "", "14.20 A"},
		{"moved, no line in the changelog", true, "14.90 A", "is not rewritten", "14.20 A"},
	} {
		*update = step.update
		n := &notes{TB: t}
		Golden(n, path, []byte(step.got), Tol{Rel: 1e-2})
		said := strings.Join(n.errors, "\n")
		if step.says == "" && said != "" || !strings.Contains(said, step.says) {
			t.Errorf("%s: reported %q, want %q", step.name, said, step.says)
		}
		if stored, _ := os.ReadFile(path); string(stored) != step.stored {
			t.Errorf("%s: stored %q, want %q", step.name, stored, step.stored)
		}
	}

	put("CHANGELOG.md", "## [Unreleased]\n- volts.txt: warmer regulator\n\n## [0.1.0]\n")
	n := &notes{TB: t}
	Golden(n, path, []byte("14.90 A"), Tol{Rel: 1e-2})
	if stored, _ := os.ReadFile(path); string(stored) != "14.90 A" || len(n.errors) != 0 {
		t.Errorf("with a line in the changelog: stored %q, reported %q", stored, n.errors)
	}
}
