package main

import (
	"bytes"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"chargewright/advice"
	"chargewright/internal/near"
	"chargewright/internal/sample"
	"chargewright/internal/schemas/schematest"
	"chargewright/question"
	"chargewright/system"
	"chargewright/unit"
)

// satisfies holds what a command printed against its schema.
func satisfies(t *testing.T, schema string, text []byte) {
	t.Helper()
	s, err := schematest.Compile(schema)
	if err != nil {
		t.Fatal(err)
	}
	if err := schematest.Validate(s, text); err != nil {
		t.Errorf("%s: %v", schema, err)
	}
}

// TestOutputsSatisfyTheirSchemas: everything that the library can be asked for; of
// what is simulated every system has one of the six here, and each of them at least one
// system, all of it with CHARGEWRIGHT_ALL: the form of an answer hangs on the system's
// procedures and on what is asked, each by itself.
func TestOutputsSatisfyTheirSchemas(t *testing.T) {
	satisfies(t, "output-systems", answer(t, "systems", "--json"))
	for k, id := range system.Library() {
		satisfies(t, "output-systems", answer(t, "systems", id, "--json"))
		satisfies(t, "output-procedures", answer(t, "procedures", "--system", id, "--json"))
		satisfies(t, "output-faults", answer(t, "faults", "--system", id, "--json"))
		for _, flags := range sample.Part([][]string{
			{},
			{"--ambient=-15 degC"},
			{"--fault", "rotor-open"},
			{"--fault", "belt-slip=0.4", "--set", "battery.soc=40 %"},
			{"--fault", "regulator-full-field", "--fault", "battery-worn"},
			{"--fault", "battery-strap-open"},
		}, k, 6) {
			satisfies(t, "output-simulate", answer(t, append([]string{"simulate", "--all", "--json", "--system", id}, flags...)...))
		}
	}
}

// TestGoldenOutputs: golden: what was printed when somebody last looked at it.
// Numbers may move by 2 %, the model's own promise; a schema holds every file.
func TestGoldenOutputs(t *testing.T) {
	for _, c := range []struct {
		file, schema string
		args         []string
	}{
		{"procedures.json", "output-procedures", []string{"procedures", "--system", "isolated-earth-side", "drop-feed", "look-belt", "--json"}},
		{"faults.json", "output-faults", []string{"faults", "--system", "isolated-earth-side", "belt-slip", "rotor-shorted-turns", "diode-open", "--json"}},
		{"simulate.json", "output-simulate", []string{"simulate", "--system", "isolated-earth-side", "--fault", "regulator-set-high=1.06", "--procedure", "charge-volts", "--procedure", "look-belt", "--json"}},
		{"check.json", "output-check", []string{"check", "testdata/good/job.yaml", "--json"}},
	} {
		got := answer(t, c.args...)
		satisfies(t, c.schema, got)
		near.Golden(t, filepath.Join("testdata", "golden", c.file), got, near.Tol{Rel: 0.02, Abs: 1e-9})
	}
	files, err := filepath.Glob("testdata/golden/*.json")
	if err != nil || len(files) < 4 {
		t.Fatalf("golden files: %v (%v)", files, err)
	}
}

// TestExitCodes: 0 answer, 1 the input has problems, 2 usage.
func TestExitCodes(t *testing.T) {
	for _, c := range []struct {
		code int
		args []string
	}{
		{exitAnswer, []string{"systems"}},
		{exitInput, []string{"systems", "nowhere"}},
		{exitInput, []string{"faults", "--system", "isolated-earth-side", "nothing"}},
		{exitInput, []string{"simulate", "--system", "isolated-earth-side", "--procedure", "nothing"}},
		{exitUsage, []string{"simulate", "--system", "isolated-earth-side"}},
		{exitUsage, []string{"simulate", "--procedure", "charge-volts"}},
		{exitUsage, []string{"netlist", "--system", "isolated-earth-side", "--settle", "100"}},
		{exitInput, []string{"netlist", "--system", "isolated-earth-side", "--procedure", "look-belt"}},
		{exitInput, []string{"check", "nowhere.yaml"}},
		{exitUsage, []string{"check"}},
		{exitInput, []string{"schema", "nothing"}},
	} {
		var out, said bytes.Buffer
		e := &env{stdin: strings.NewReader(""), stdout: &out, stderr: &said, args: c.args}
		e.fs, e.cwd = disk()
		if code := run(e); code != c.code {
			t.Errorf("%v: exit %d, want %d: %s", c.args, code, c.code, said.String())
		}
		if (c.code == exitAnswer) == (said.Len() > 0) {
			t.Errorf("%v: on standard error: %q", c.args, said.String())
		}
	}
}

// TestFiguresFit: what the readings say of the vehicle stays within the page, however
// long the figures are.
func TestFiguresFit(t *testing.T) {
	var page text
	page.figures(advice.Advice{Parameters: []advice.Parameter{
		{Name: "change of the regulated voltage with temperature", Dim: unit.VoltPerKelvin, Median: -0.0101, Low: -0.0166, High: -0.00343},
		{Name: "flux constant", Dim: unit.VoltSecond, Median: 0.0129, Low: 0.0125, High: 0.0132},
	}})
	for _, line := range strings.Split(page.String(), "\n") {
		if n := utf8.RuneCountInString(line); n > width {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	if !strings.Contains(strings.Join(strings.Fields(page.String()), " "), "12.9 mV.s (12.5 mV.s to 13.2 mV.s)") {
		t.Errorf("something is left out:\n%s", page.String())
	}
}

// TestLeadsGoOnStanding: no line has leads put on while the engine turns.
func TestLeadsGoOnStanding(t *testing.T) {
	step := advice.Step{
		Hookup:    []advice.Move{{Place: "engine", From: "fast", To: "idle", Say: "Let the engine fall to idle"}},
		Body:      advice.Body{Leads: []advice.Lead{{Box: "battery volts", Red: &advice.Point{}, Black: &advice.Point{}}}},
		LeadsStay: true,
	}
	for stay, says := range map[bool]string{true: "1. [ ] The leads of the meter stay where they are", false: "1. [ ] Leads of the meter on"} {
		step.LeadsStay = stay
		var page text
		page.step(step)
		if !strings.Contains(page.String(), says) {
			t.Errorf("not %q:\n%s", says, page.String())
		}
	}
}

// TestNoAnswer: what has no operating point is no problem of the input.
func TestNoAnswer(t *testing.T) {
	p := &question.Procedure{ID: "charge-volts"}
	var c *coded
	if err := unanswered([]simulated{{p: p, unsolved: true}}, false); !errors.As(err, &c) || c.code != exitNoAnswer {
		t.Errorf("%v: want exit %d", err, exitNoAnswer)
	}
	refused := []simulated{{p: p, refused: "no such point"}}
	if err := unanswered(refused, true); err != nil {
		t.Errorf("of all procedures one does not apply: %v", err)
	}
	if err := unanswered(refused, false); err == nil {
		t.Error("the one procedure that was asked for cannot be done, and nothing was said")
	}
}
