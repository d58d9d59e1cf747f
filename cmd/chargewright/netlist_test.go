package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"chargewright/internal/need"
	"chargewright/internal/sample"
)

// agree holds what simulate printed as JSON against what ngspice printed for the
// netlist of the same vehicle: agree simulate.json ngspice.txt.
func agree(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: agree JSON LIST")
	}
	n, err := agreement([]byte(ts.ReadFile(args[0])), ts.ReadFile(args[1]))
	ts.Check(err)
	ts.Logf("%d readings agree", n)
}

// Tolerances of the whole vehicle: the sum of what its parts state. Machine
// tables 1 % and 0.1 A against the time domain, network 1e-6, ngspice's run
// 0.2 %, settling 2 mV: 1.5 % of a reading, and where a small reading is the
// difference of large ones 20 mV, 0.15 A. Ripple has no closer promise than the
// model term of prediction, 25 %: 30 % and 5 mV. Ohms are the same linear
// circuit: 1e-4.
func tolerance(quantity string, x float64) float64 {
	switch quantity {
	case "amps":
		return 0.015*math.Abs(x) + 0.15
	case "ac-volts":
		return 0.3*math.Abs(x) + 0.005
	case "ohms":
		return 1e-4 * math.Abs(x)
	}
	return 0.015*math.Abs(x) + 0.02
}

var spicePrinted = regexp.MustCompile(`(?m)^r(\d+)\s+=\s+(\S+)`)

// agreement compares reading by reading and returns how many there were.
func agreement(simulated []byte, list string) (int, error) {
	var out simulateOut
	if err := json.Unmarshal(simulated, &out); err != nil {
		return 0, err
	}
	if len(out.Procedures) != 1 {
		return 0, fmt.Errorf("%d procedures were simulated: one is wanted", len(out.Procedures))
	}
	if n := out.Procedures[0].Points; n > 1 {
		return 0, nil // the transient may settle at another one of them
	}
	theirs := map[int]float64{}
	for _, m := range spicePrinted.FindAllStringSubmatch(list, -1) {
		n, _ := strconv.Atoi(m[1])
		v, err := strconv.ParseFloat(m[2], 64)
		if err != nil {
			return 0, err
		}
		theirs[n] = v
	}
	count := 0
	for i, r := range out.Procedures[0].Readings {
		v, ok := theirs[i+1]
		switch {
		case r.Quantity == "density" || r.Quantity == "speed":
			continue
		case !ok:
			return count, fmt.Errorf("ngspice printed no r%d (%s)", i+1, r.Box)
		case !(math.Abs(v-r.Median) <= tolerance(r.Quantity, r.Median)):
			return count, fmt.Errorf("%s, %s: %.5g %s simulated, %.5g by ngspice, tolerance %.2g",
				out.Procedures[0].Procedure, r.Box, r.Median, r.Unit, v, tolerance(r.Quantity, r.Median))
		}
		count++
	}
	return count, nil
}

// TestNetlistRuns: the printed netlist runs as it is, and reads what simulate
// says. program: ngspice 39.
func TestNetlistRuns(t *testing.T) {
	program := need.Program(t, "ngspice")
	cases := [][]string{
		{"--procedure", "ac-volts", "--fault", "diode-short"},
		{"--procedure", "bench-rotor-ohms", "--fault", "rotor-shorted-turns=0.7"},
		{"--procedure", "drop-feed", "--fault", "feed-joint-bulkhead-a=30 mOhm", "--ambient", "5 degC"},
	}
	if sample.All() {
		cases = everyProcedure(t)
	}
	for _, flags := range cases {
		flags = append(flags, "--system", "isolated-earth-side")
		deck := answer(t, append([]string{"netlist", "--settle", "0.2"}, flags...)...)
		file := filepath.Join(t.TempDir(), "vehicle.cir")
		if err := os.WriteFile(file, deck, 0o600); err != nil {
			t.Fatal(err)
		}
		list, err := exec.Command(program, "-b", file).Output()
		if err != nil {
			t.Errorf("%v: ngspice: %v", flags, err)
			continue
		}
		n, err := agreement(answer(t, append([]string{"simulate", "--json"}, flags...)...), string(list))
		if err != nil {
			t.Errorf("%v: %v", flags, err)
		}
		t.Logf("%v: %d readings", flags, n)
	}
}

// everyProcedure lists all that measures, each with another fault.
func everyProcedure(t *testing.T) [][]string {
	t.Helper()
	sh, err := openShelf(&env{}, "isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	var out [][]string
	for i, p := range sh.procedures() {
		if p.Look != nil {
			continue
		}
		f := known(sh.sys)[i*7%len(known(sh.sys))]
		flag := f.ID
		if m := f.Magnitude; m != nil {
			flag += "=" + strconv.FormatFloat(math.Sqrt(m.Low*m.High), 'g', 6, 64) + " " + m.Dim.Symbol()
		}
		out = append(out, []string{"--procedure", p.ID, "--fault", flag})
	}
	return out
}

// answer runs a command that must have one.
func answer(t *testing.T, args ...string) []byte {
	t.Helper()
	var out, said bytes.Buffer
	e := &env{stdin: strings.NewReader(""), stdout: &out, stderr: &said, args: args}
	e.fs, e.cwd = disk()
	if code := run(e); code != exitAnswer {
		t.Fatalf("%v: exit %d: %s", args, code, said.String())
	}
	return out.Bytes()
}

// TestNetlistNamesEveryElement: behind every element stands what it is.
func TestNetlistNamesEveryElement(t *testing.T) {
	for _, flags := range [][]string{
		{"--procedure", "full-field-output", "--fault", "phase-short"},
		{"--procedure", "charge-volts", "--fault", "regulator-full-field", "--fault", "phase-earth"},
		{"--procedure", "drop-feed", "--fault", "diode-short"},
		{"--procedure", "rotor-ohms"},
		{"--system", "lamp-excited", "--procedure", "blip-volts", "--fault", "field-diode-short"},
		{},
	} {
		args := []string{"netlist", "--system", "isolated-earth-side"}
		if slices.Contains(flags, "--system") {
			args = args[:1]
		}
		deck := answer(t, append(args, flags...)...)
		elements, control := 0, false
		for line := range strings.SplitSeq(string(deck), "\n") {
			control = control || line == ".control"
			if control || line == "" || !strings.Contains("RCLDVBI", line[:1]) {
				continue
			}
			elements++
			if !strings.Contains(line, " ; ") {
				t.Errorf("%v: no word on %s", flags, line)
			}
		}
		if elements < 60 {
			t.Errorf("%v: %d elements", flags, elements)
		}
	}
}
