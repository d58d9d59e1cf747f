// Package badfile tests readers against files that are wrong on purpose. The
// problems that a reader must find stand as comments in the file itself:
//
//	# want 12:5 unknown key "meadian"; write instead: median
//
// The text must occur in the problem as it is printed. Every problem must be
// wanted and every want be met, so that nothing is reported twice and nothing
// is missed. It serves tests only.
package badfile

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"chargewright/problem"
)

var wantForm = regexp.MustCompile(`(?m)^\s*# want (\d+:\d+) (.+)$`)

// Run reads every YAML file of a folder with parse and compares the problems.
func Run(t *testing.T, folder string, parse func(file string, data []byte) error) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(folder, "*.yaml"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no files in %s (%v)", folder, err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			for _, line := range Compare(data, parse(filepath.Base(file), data)) {
				t.Error(line)
			}
		})
	}
}

// Compare holds the problems in err against the wants in the file and returns
// what does not agree.
func Compare(data []byte, err error) []string {
	var list problem.List
	if err != nil && !errors.As(err, &list) {
		return []string{fmt.Sprintf("not a list of problems: %v", err)}
	}
	type want struct {
		at, text string
		met      bool
	}
	var wants []want
	for _, m := range wantForm.FindAllSubmatch(data, -1) {
		wants = append(wants, want{at: string(m[1]), text: strings.TrimSpace(string(m[2]))})
	}
	var out []string
	if len(wants) == 0 {
		out = append(out, "the file has no # want line")
	}
next:
	for _, p := range list {
		at := fmt.Sprintf("%d:%d", p.Line, p.Col)
		for i, w := range wants {
			if !w.met && w.at == at && strings.Contains(p.String(), w.text) {
				wants[i].met = true
				continue next
			}
		}
		out = append(out, fmt.Sprintf("not wanted: # want %s %s", at, strings.SplitN(p.String(), ": ", 2)[1]))
	}
	for _, w := range wants {
		if !w.met {
			out = append(out, fmt.Sprintf("not found: # want %s %s", w.at, w.text))
		}
	}
	return out
}
