package main

import (
	"bytes"
	"strings"
	"testing"
	"testing/fstest"
)

// TestFlagsSayWhatToWrite: a value that a flag cannot have is answered with what to write
// instead, in plain words and not in the flag library's.
func TestFlagsSayWhatToWrite(t *testing.T) {
	for line, want := range map[string]string{
		"demo --seed x":         `--seed "x" is not a whole number of 0 or more: write instead --seed 1`,
		"demo --seed -3":        `--seed "-3" is not a whole number of 0 or more: write instead --seed 1`,
		"demo --seed":           `--seed wants a whole number: write --seed 5`,
		"diagnose --top 1.5 a":  `--top "1.5" is not a whole number: write instead --top 5`,
		"netlist --settle fast": `--settle "fast" is not a number: write instead --settle 0.5`,
		"netlist --settle":      `--settle wants a number: write --settle 0.5`,
		"demo --json=maybe":     `--json "maybe" is not yes or no: write instead --json alone, or leave it out`,
		"diagnose":              `<job> is missing`,
	} {
		var out, problem bytes.Buffer
		e := &env{fs: fstest.MapFS{}, cwd: ".", stdout: &out, stderr: &problem, args: strings.Fields(line)}
		if code := run(e); code != exitUsage {
			t.Errorf("%s: exit code %d", line, code)
		}
		if got := problem.String(); !strings.HasPrefix(got, "chargewright: "+want+"\n") {
			t.Errorf("%s: %q, want %q", line, got, want)
		}
		for _, theirs := range []string{"64 bit", "uint", "float", "EOL", "bool", "<nil>"} {
			if strings.Contains(problem.String(), theirs) {
				t.Errorf("%s: says %q", line, theirs)
			}
		}
	}
}
