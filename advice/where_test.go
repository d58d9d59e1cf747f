package advice_test

import (
	"slices"
	"strings"
	"testing"

	"chargewright/advice"
	"chargewright/system"
)

// TestRepairGroups: every repair stands once on the list, what is likely first, and the
// others where they are done; the list's parts are those of the library.
func TestRepairGroups(t *testing.T) {
	s := standing(t, pageJob(t))
	all := s.Repairs()
	groups := s.RepairGroups()
	n := 0
	for i, g := range groups {
		n += len(g.Choices)
		for _, c := range g.Choices {
			if likely := c.Share >= 0.01; likely != (i == 0) {
				t.Errorf("%s with %s stands under %s", c.Name, c.Percent, g.Name)
			}
		}
	}
	if n != len(all) || groups[0].Name != "Likely now" || groups[0].Choices[0] != all[0] {
		t.Errorf("%d of %d repairs are listed, the first under %q", n, len(all), groups[0].Name)
	}
	// Nothing that stands on the charging line is anything else.
	other := []string{"accessories", "house", "ignition-coil", "stop-solenoid", "engine", "engine-unit"}
	for _, id := range system.Library() {
		sys, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range sys.Faults {
			if strings.HasPrefix(f.ID, "outside-") {
				continue // of no list
			}
			if where := advice.WhereOf(sys, f.Repair); (where == "Anything else") != slices.Contains(other, f.Part) && f.Part != "" {
				t.Errorf("%s: %s, part %s, is mended at %q", id, f.ID, f.Part, where)
			}
		}
	}
}
