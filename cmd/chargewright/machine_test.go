package main

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"
)

const demoMachine = "examples/machines/demo-55.yaml"

// TestMachineFormsAgree: text, JSON and CSV tell one and the same run, and it
// balances. closed form: Kirchhoff's law.
func TestMachineFormsAgree(t *testing.T) {
	args := []string{"machine", demoMachine, "--speed", "2500", "--side", "12.6V,10mOhm,0.5Ohm", "--fault", "field-diode-b=open"}
	text, said, code := command(t, append(args, "--json")...)
	if code != exitAnswer {
		t.Fatalf("exit %d: %s", code, said)
	}
	satisfies(t, "output-machine", []byte(text))
	var o ranMachineOut
	if err := json.Unmarshal([]byte(text), &o); err != nil {
		t.Fatal(err)
	}
	if d := o.Output.Mean - o.Battery - o.Load; math.Abs(d) > 1e-9 {
		t.Errorf("%g A go nowhere", d)
	}
	if d := o.DPlus.Mean - o.Field.Value; math.Abs(d) > 1e-6 {
		t.Errorf("D+ gives %g A, the field draws %g", o.DPlus.Mean, o.Field.Value)
	}
	text, _, code = command(t, append(args, "--csv")...)
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if code != exitAnswer || err != nil || len(rows) != len(o.Wave.Output)+1 {
		t.Fatalf("CSV: exit %d, %d rows for %d samples (%v)", code, len(rows), len(o.Wave.Output), err)
	}
	sum := 0.0
	for k, r := range rows[1:] {
		x, err := strconv.ParseFloat(r[2], 64)
		if err != nil || math.Abs(x-o.Wave.Output[k]) > 1e-5*math.Abs(x) {
			t.Fatalf("row %d: %v is not %v (%v)", k, r[2], o.Wave.Output[k], err)
		}
		sum += x
	}
	// Samples against the mean over all part steps: the steps' own error.
	if mean := sum / float64(len(rows)-1); math.Abs(mean/o.Output.Mean-1) > 1e-3 {
		t.Errorf("samples average %.4f A, mean %.4f", mean, o.Output.Mean)
	}
}

// TestMachineExitCodes: 0 answer, 1 the input has problems, 2 usage.
func TestMachineExitCodes(t *testing.T) {
	ok := []string{"--speed", "3000", "--side", "12.6V,10mOhm,0A"}
	for _, c := range []struct {
		code int
		args []string
	}{
		{exitAnswer, append([]string{demoMachine}, ok...)},
		{exitInput, append([]string{"nowhere.yaml"}, ok...)},
		{exitInput, append([]string{"README.md"}, ok...)},
		{exitInput, append([]string{demoMachine, "--fault", "x"}, ok...)},
		{exitInput, append([]string{demoMachine, "--field", "5 V"}, ok...)},
		{exitUsage, []string{demoMachine, "--speed", "3000"}},
		{exitUsage, append([]string{demoMachine, "--json", "--csv"}, ok...)},
	} {
		out, said, code := command(t, append([]string{"machine"}, c.args...)...)
		if code != c.code || (code == exitAnswer) == (said != "") || (code == exitAnswer) != (out != "") {
			t.Errorf("%v: exit %d, want %d: %s", c.args, code, c.code, said)
		}
	}
}
