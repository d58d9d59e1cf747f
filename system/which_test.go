package system

import (
	"slices"
	"strings"
	"testing"
)

// TestWhichOfTwo: where a vehicle has two alternators or two batteries, the name of a
// fault of one of them, and of its repair, says which one. Before, "brush worn short" on
// a coach was the first alternator's and did not say so.
func TestWhichOfTwo(t *testing.T) {
	machine := []string{"alternator", "rectifier", "regulator", "capacitor", "lamp", "lamp-wire", "regulator-plug", "sense-wire", "charge-wire", "bracket", "belt", "pulley"}
	battery := []string{"battery", "battery-clamps", "battery-cable"}
	for _, c := range []struct {
		id    string
		parts []string
		says  []string
	}{
		{"coach-24", machine, []string{"first", "lamp 1"}},
		{"coach-24", battery[:2], []string{"front battery", "rear battery"}},
		{"split-charge", battery, []string{"starter battery"}},
		{"diode-splitter", battery, []string{"starter battery"}},
	} {
		sys, err := ByID(c.id)
		if err != nil {
			t.Fatal(err)
		}
		practice, err := PracticeFor(c.id)
		if err != nil {
			t.Fatal(err)
		}
		holds := func(name string) bool {
			return slices.ContainsFunc(c.says, func(s string) bool { return strings.Contains(name, s) })
		}
		n := 0
		for _, f := range sys.Faults {
			if !slices.Contains(c.parts, f.Part) || strings.HasPrefix(f.ID, "outside-") {
				continue
			}
			n++
			if !holds(f.Name) {
				t.Errorf("%s: %s is called %q, which does not say which", c.id, f.ID, f.Name)
			}
			r := practice.Repairs[f.Repair]
			both := strings.Contains(r.Name, "both") || strings.Contains(r.Name, "two") || strings.Contains(r.Name, "charge lamp") || strings.Contains(r.Name, "first")
			if !holds(r.Name) && !both {
				t.Errorf("%s: %s is mended by %q, which does not say which", c.id, f.ID, r.Name)
			}
		}
		if n == 0 {
			t.Errorf("%s: no fault of %v", c.id, c.parts)
		}
	}
}
