package main

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"chargewright/internal/need"
)

// installed is where the units have the program.
const installed = "/usr/local/bin/chargewright"

// mostExposed is how much of what a service might reach a unit may leave open, in tenths
// of systemd's scale of ten (program: systemd-analyze 252 says 1.7 of each).
const mostExposed = "20"

func readText(t *testing.T, file string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", filepath.FromSlash(file)))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// TestUnits: systemd understands every line of the units, and says so of one that it
// does not (systemd-analyze verify takes what it does not know for nothing, and
// only mentions it).
func TestUnits(t *testing.T) {
	analyze := need.Program(t, "systemd-analyze")
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	verify := func(name, text string) string {
		t.Helper()
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, []byte(strings.ReplaceAll(text, installed, program)), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.CommandContext(t.Context(), analyze, "verify", "--man=no", "--recursive-errors=no", file).CombinedOutput()
		if err != nil {
			return err.Error() + ": " + string(out)
		}
		return string(out)
	}
	one, several, worker := readText(t, "packaging/chargewright.service"), readText(t, "packaging/chargewright@.service"), readText(t, "packaging/chargewright-worker@.service")
	for name, text := range map[string]string{"chargewright.service": one, "chargewright@shop7-a.service": several, "chargewright-worker@shop7.service": worker} {
		if !strings.Contains(text, installed+" serve") && text != worker || text == worker && !strings.Contains(text, installed+" work") {
			t.Errorf("%s does not start %s", name, installed)
		}
		if said := verify(name, text); said != "" {
			t.Errorf("%s: %s", name, said)
		}
		if out, err := exec.CommandContext(t.Context(), analyze, "security", "--offline=true", "--threshold="+mostExposed, filepath.Join(dir, name)).CombinedOutput(); err != nil {
			t.Errorf("%s is more exposed than %s: %s", name, mostExposed, out)
		}
	}
	for what, c := range map[string][2]string{"a key": {"UMask=", "UMasks="}, "a value": {"ProtectProc=invisible", "ProtectProc=ghost"}, "the program": {installed, "/nowhere/chargewright"}} {
		if said := verify("chargewright.service", strings.Replace(one, c[0], c[1], 1)); said == "" {
			t.Errorf("%s that is wrong is not seen", what)
		}
	}
}

var (
	fenced    = regexp.MustCompile("(?ms)^```\n(.*?)^```$")
	inline    = regexp.MustCompile("`(chargewright [^`]+)`")
	shellWord = regexp.MustCompile(`"([^"]*)"|(\S+)`)
)

// commandsOf are the command lines of a page: what a block begins a line with, and
// what stands in the text; a name in capitals is one that the reader fills in.
func commandsOf(page string) (out []string) {
	for _, b := range fenced.FindAllStringSubmatch(page, -1) {
		for line := range strings.Lines(b[1]) {
			switch args, is := strings.CutPrefix(strings.TrimSpace(line), "CHARGEWRIGHT_ARGS="); {
			case is:
				out = append(out, "chargewright serve "+args)
			case strings.HasPrefix(line, "chargewright "):
				out = append(out, strings.TrimSpace(line))
			}
		}
	}
	for _, m := range inline.FindAllStringSubmatch(page, -1) {
		out = append(out, m[1])
	}
	return out
}

// words are a command line's words without the program's name: up to a pipe, with
// quotes and a shell's date taken away.
func words(line string) (out []string) {
	line, _, _ = strings.Cut(line, " | ")
	line = strings.ReplaceAll(line, "$(date +%d)", "27")
	for _, m := range shellWord.FindAllStringSubmatch(line, -1) {
		out = append(out, m[1]+m[2])
	}
	return out[1:]
}

// TestCommandsOfTheOperator: every command of docs/operation.md, of the journal's
// page and of the units is one that the program takes.
func TestCommandsOfTheOperator(t *testing.T) {
	all := append(commandsOf(readText(t, "docs/operation.md")), commandsOf(readText(t, "docs/journal-format.md"))...)
	for _, unit := range []string{"packaging/chargewright.service", "packaging/chargewright@.service", "packaging/chargewright-worker@.service"} {
		for line := range strings.Lines(readText(t, unit)) {
			if start, is := strings.CutPrefix(line, "ExecStart="); is {
				all = append(all, strings.NewReplacer("$CHARGEWRIGHT_ARGS", "", "$CHARGEWRIGHT_WORKER_ARGS", "", "%S", "/var/lib").Replace(start))
			}
		}
	}
	if len(all) < 12 {
		t.Errorf("only %d commands were found: %q", len(all), all)
	}
	for _, line := range all {
		if why := untaken(t, words(line)); why != "" {
			t.Errorf("%s: %s", line, why)
		}
	}
	for _, wrong := range []string{"chargewright serv", "chargewright serve --lisen 1", "chargewright backup"} {
		if untaken(t, words(wrong)) == "" {
			t.Errorf("%s is taken", wrong)
		}
	}
}

// untaken says why a command line is not taken; "" when it is.
func untaken(t *testing.T, args []string) string {
	t.Helper()
	parser, err := commandLine(&env{stdout: io.Discard, stderr: io.Discard}, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parser.Parse(args); err != nil {
		return err.Error()
	}
	return ""
}
