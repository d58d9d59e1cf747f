package near

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "rewrite golden files; refuses a number that moved, unless CHANGELOG.md names the file")

// Updating says whether the tests run with -update, for a package that keeps
// other stored results as well.
func Updating() bool { return *update }

// Golden compares got with the stored file, word for word except that numbers
// with a decimal point or an exponent may differ by tol. Counts (whole numbers)
// and numbers inside a word, such as R7 or 2026-01-31, must be the same.
//
// Print got from rounded numbers: a golden file proves nothing but that the
// page did not change unseen.
//
// With -update the file is rewritten and the difference shown. A number that
// moved by more than tol is rewritten only when the Unreleased section of
// CHANGELOG.md names the file, so that someone has said why it moved.
func Golden(t testing.TB, path string, got []byte, tol Tol) {
	t.Helper()
	want, err := os.ReadFile(path)
	switch {
	case err != nil && !*update:
		t.Errorf("no golden file (%v): make it with -update and read it before it is kept", err)
		return
	case err != nil:
		write(t, path, got)
		return
	}
	diff := Compare(string(got), string(want), tol)
	switch {
	case diff.Same():
	case !*update:
		t.Errorf("%s differs (-stored +now); look at it, then run the test with -update:\n%s", path, diff)
	case diff.Moved > 0 && !mayMove(t, path):
		t.Errorf("%s is not rewritten: %d numbers moved by more than %.3g of them or %.3g. Say why on a line of CHANGELOG.md under Unreleased that names %s:\n%s",
			path, diff.Moved, tol.Rel, tol.Abs, filepath.Base(path), diff)
	default:
		t.Logf("%s rewritten (-stored +now):\n%s", path, diff)
		write(t, path, got)
	}
}

func write(t testing.TB, path string, got []byte) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, got, 0o644); err != nil {
		t.Fatal(err)
	}
}

// Diff is what differs between two texts.
type Diff struct {
	Moved int      // numbers outside the tolerance, in lines that differ in nothing else
	Words int      // lines that differ in more than numbers
	Lines []string // the lines, stored ones with "-", new ones with "+"
}

// Same says that nothing differs by more than the tolerance.
func (d Diff) Same() bool { return d.Moved == 0 && d.Words == 0 }

// shown is how many lines of a difference are printed.
const shown = 40

func (d Diff) String() string {
	if len(d.Lines) > shown {
		return fmt.Sprintf("%s\n… and %d lines more", strings.Join(d.Lines[:shown], "\n"), len(d.Lines)-shown)
	}
	return strings.Join(d.Lines, "\n")
}

// Compare compares two texts line by line as Golden does.
func Compare(got, want string, tol Tol) Diff {
	var d Diff
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range max(len(g), len(w)) {
		switch {
		case i >= len(g):
			d.Words++
			d.Lines = append(d.Lines, "-"+w[i])
		case i >= len(w):
			d.Words++
			d.Lines = append(d.Lines, "+"+g[i])
		default:
			moved, words := line(g[i], w[i], tol)
			if moved > 0 || words {
				d.Lines = append(d.Lines, "-"+w[i], "+"+g[i])
			}
			d.Moved += moved
			if words {
				d.Words++
			}
		}
	}
	return d
}

// number finds the numbers that stand by themselves: not behind a letter, a
// digit, a point, a hyphen within a word.
var number = regexp.MustCompile(`[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?`)

// line compares two lines: how many numbers moved too far, and whether
// anything else differs.
func line(got, want string, tol Tol) (moved int, words bool) {
	if got == want {
		return 0, false
	}
	g, w := split(got), split(want)
	if len(g) != len(w) {
		return 0, true
	}
	for i := range g {
		if g[i] == w[i] {
			continue
		}
		isText := i%2 == 0
		if isText || isCount(g[i]) && isCount(w[i]) {
			return 0, true
		}
		if !tol.Within(value(g[i]), value(w[i])) {
			moved++
		}
	}
	return moved, false
}

// split cuts a line into text and numbers, in turn: text, number, text, …
func split(s string) []string {
	var parts []string
	at := 0
	for _, m := range number.FindAllStringIndex(s, -1) {
		if inWord(s, m[0], m[1]) {
			continue
		}
		parts = append(parts, s[at:m[0]], s[m[0]:m[1]])
		at = m[1]
	}
	return append(parts, s[at:])
}

// inWord says whether s[from:to] is part of a name or a date.
func inWord(s string, from, to int) bool {
	if from > 0 && isWord(s[from-1]) {
		return true
	}
	if to < len(s) && (s[to] == '-' || s[to] == '_') && to+1 < len(s) && isWord(s[to+1]) {
		return true
	}
	return false
}

func isWord(c byte) bool {
	return c == '_' || c == '.' || c == '-' || '0' <= c && c <= '9' || 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z'
}

// value reads what number has found. Out of range it is an infinity, which is
// within a tolerance of nothing but itself.
func value(s string) float64 {
	x, _ := strconv.ParseFloat(s, 64)
	return x
}

func isCount(s string) bool { return !strings.ContainsAny(s, ".eE") }
