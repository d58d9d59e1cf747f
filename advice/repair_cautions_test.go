package advice

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"chargewright/system"
)

// takesOff is a line of a repair that has a battery cable off.
var takesOff = regexp.MustCompile(`(?i)(earth|negative) (cable|clamp)s? off|isolator and earth cable off|sensor clamp off`)

// TestRepairsAtTheBattery: a repair that takes the earthed cable off says so by its
// caution, and then has rings, eyes and hydrogen with it, as the hook-up that takes it
// off has. Source: docs/models/safety.md R41.
func TestRepairsAtTheBattery(t *testing.T) {
	looked := 0
	for _, id := range system.Library() {
		s, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		practice, err := system.PracticeFor(s.Arrangement)
		if err != nil {
			t.Fatal(err)
		}
		d := &Desk{Prepared: &Prepared{System: s}}
		for _, f := range s.Faults {
			r := practice.Repairs[f.Repair]
			off := takesOff.MatchString(strings.Join(r.Say, "; "))
			if off && !slices.Contains(r.Cautions, cautionEarth) {
				t.Errorf("%s on %s takes the earthed cable off without %s: %q", f.Repair, id, cautionEarth, r.Say)
			}
			all := d.repairCautions(r)
			for _, c := range []string{"c14", "c08", "c02"} {
				if off && !slices.Contains(all, c) {
					t.Errorf("%s on %s is at the battery without %s: %v", f.Repair, id, c, all)
				}
			}
			if !off && !slices.Contains(r.Cautions, cautionEarth) && len(all) != len(r.Cautions) {
				t.Errorf("%s on %s has cautions of a battery that it does not touch: %v", f.Repair, id, all)
			}
			if off {
				looked++
			}
		}
	}
	if looked < 100 {
		t.Errorf("only %d repairs were looked at", looked)
	}
}
