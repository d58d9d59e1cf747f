// Command slowest reads the stream of `go test -json` on standard input and
// prints what a person wants of it: the closing line of every package as it
// comes, the output of each test that failed, then the ten slowest tests.
//
// It ends with status 1 when a test failed or was skipped: in CI a skipped
// check is a failure. It refuses a stream with no test in it, so that a broken
// pipe cannot look like a good run. Lines that are not JSON are passed on.
package main

import (
	"bufio"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"
)

// show is how many tests are listed.
const show = 10

func main() {
	if err := run(os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "slowest:", err)
		os.Exit(1)
	}
}

// event is one line of `go test -json`; see `go doc test2json`.
type event struct {
	Action, Package, Test, Output string
	Elapsed                       float64 // [s]
}

// result is one test that ended.
type result struct {
	name    string
	seconds float64
}

// tally is what has been read so far.
type tally struct {
	out     io.Writer
	printed map[string][]string // output of tests that run, by package and test
	ended   []result            // tests that passed or failed
	skipped []string
	failed  []string
}

// run copies the useful lines of the stream and returns a problem when a test
// failed, was skipped, or none was run.
func run(in io.Reader, out io.Writer) error {
	t := tally{out: out, printed: map[string][]string{}}
	lines := bufio.NewReader(in) // a line can be longer than a Scanner's limit
	for {
		line, err := lines.ReadString('\n')
		if line != "" {
			t.line(line)
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return fmt.Errorf("reading the stream: %w", err)
		}
	}
	t.list()
	return t.verdict()
}

// line takes in one line.
func (t *tally) line(line string) {
	var e event
	if json.Unmarshal([]byte(line), &e) != nil || e.Action == "" {
		fmt.Fprint(t.out, line) // of make, or of a script before the tests
		return
	}
	name := e.Package + " " + e.Test
	switch e.Action {
	case "output", "build-output":
		if e.Test != "" {
			t.printed[name] = append(t.printed[name], e.Output)
		} else if e.Output != "PASS\n" {
			fmt.Fprint(t.out, e.Output)
		}
	case "pass", "fail", "skip":
		t.end(name, e)
	}
}

// end takes in the end of a test or, with no test named, of a package. A
// package that skips has no test files: nothing was left out.
func (t *tally) end(name string, e event) {
	if e.Action == "fail" {
		t.failed = append(t.failed, strings.TrimSpace(name))
	}
	if e.Test == "" {
		t.flush(e.Package)
		return
	}
	if e.Action == "skip" {
		t.skipped = append(t.skipped, name)
	} else {
		t.ended = append(t.ended, result{name, e.Elapsed})
	}
	if e.Action != "pass" {
		fmt.Fprint(t.out, strings.Join(t.printed[name], ""))
	}
	delete(t.printed, name)
}

// flush prints what tests said that never ended: the package was cut short by
// a panic or by its time limit.
func (t *tally) flush(pkg string) {
	for _, name := range slices.Sorted(maps.Keys(t.printed)) {
		if strings.HasPrefix(name, pkg+" ") {
			fmt.Fprint(t.out, strings.Join(t.printed[name], ""))
			delete(t.printed, name)
		}
	}
}

// list prints the slowest tests. Subtests are left out: their time stands in
// the test that runs them.
func (t *tally) list() {
	top := slices.DeleteFunc(slices.Clone(t.ended), func(r result) bool {
		_, test, _ := strings.Cut(r.name, " ")
		return strings.Contains(test, "/")
	})
	slices.SortStableFunc(top, func(a, b result) int { return cmp.Compare(b.seconds, a.seconds) })
	fmt.Fprintf(t.out, "\n%d tests; the slowest:\n", len(top))
	for _, r := range top[:min(show, len(top))] {
		fmt.Fprintf(t.out, "%8.2f s  %s\n", r.seconds, r.name)
	}
}

// verdict returns nil when every test ran and none failed.
func (t *tally) verdict() error {
	var all []error
	if len(t.ended)+len(t.skipped) == 0 {
		all = append(all, errors.New("no test in the stream: were the tests started with -json?"))
	}
	for _, name := range t.failed {
		all = append(all, fmt.Errorf("failed: %s", name))
	}
	for _, name := range t.skipped {
		all = append(all, fmt.Errorf("skipped, which counts as failed here: %s", name))
	}
	return errors.Join(all...)
}
