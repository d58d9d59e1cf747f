package main

import (
	"path/filepath"
	"testing"

	"chargewright/internal/near"
	"chargewright/internal/schemas/schematest"
	"chargewright/system"
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

// TestOutputsSatisfyTheirSchemas: everything that the library can be asked for.
func TestOutputsSatisfyTheirSchemas(t *testing.T) {
	satisfies(t, "output-systems", answer(t, "systems", "--json"))
	for _, id := range system.Library() {
		satisfies(t, "output-systems", answer(t, "systems", id, "--json"))
		satisfies(t, "output-procedures", answer(t, "procedures", "--system", id, "--json"))
		satisfies(t, "output-faults", answer(t, "faults", "--system", id, "--json"))
		for _, flags := range [][]string{
			{}, {"--ambient=-15 degC"}, {"--fault", "rotor-open"}, {"--fault", "belt-slip=0.4", "--set", "battery.soc=40 %"},
			{"--fault", "regulator-full-field", "--fault", "battery-worn"}, {"--fault", "battery-strap-open"},
		} {
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
