package system_test

import (
	"os"
	"testing"

	"chargewright/system"
)

func read(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestPracticeIsReadInMinutes(t *testing.T) {
	p, err := system.ParsePractice("whole.yaml", read(t, "testdata/practice/whole.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"per", p.Per, 100},
		{"rate", p.Rates["rotor-open"].Rate, 1.5},
		{"attended", p.Procedures["charge-volts"].Attended, 1},
		{"elapsed", p.Procedures["charge-volts"].Elapsed, 2},
		{"elapsed left out is attended", p.Proof.Elapsed, 8},
		{"overhead", p.Overhead.FirstRigChange, 2},
		{"labour", p.Labour.Amount, 70},
		{"parts", p.Repairs["exchange"].Parts, 110},
		{"none of these", p.NoneOfThem.Rate, 2},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
	if b := p.Repairs["exchange"].Basis; b != system.Invented {
		t.Errorf("basis %q", b)
	}
}

// TestOverride: rows given replace rows, all others stay, the base is left as
// it was and the hash tells both files.
func TestOverride(t *testing.T) {
	base, err := system.ParsePractice("whole.yaml", read(t, "testdata/practice/whole.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	own, err := system.Override(base, "own.yaml", read(t, "testdata/practice/own.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"own rate", own.Rates["rotor-open"].Rate, 3},
		{"own minutes", own.Procedures["charge-volts"].Attended, 1.5},
		{"own labour", own.Labour.Amount, 82},
		{"base's proof stays", own.Proof.Attended, 8},
		{"base's per stays", own.Per, 100},
		{"base itself is unchanged", base.Rates["rotor-open"].Rate, 1.5},
		{"base's minutes are unchanged", base.Procedures["charge-volts"].Attended, 1},
		{"base's orders are unchanged", float64(len(base.Orders)), 1},
		{"an order is added", float64(len(own.Orders)), 2},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
	if own.SHA256 == base.SHA256 {
		t.Error("the hash does not tell the override")
	}
	if src := own.Rates["rotor-open"].Source; src != "our last 200 jobs" {
		t.Errorf("source %q", src)
	}
	again, err := system.Override(base, "own.yaml", read(t, "testdata/practice/own.yaml"))
	if err != nil || again.SHA256 != own.SHA256 {
		t.Error("the same two files give two hashes")
	}
	if _, err := system.Override(base, "bad.yaml", []byte("format: 1\nlabour: {per-hour: 82}\n")); err == nil {
		t.Error("an own row without a basis was taken")
	}
}
