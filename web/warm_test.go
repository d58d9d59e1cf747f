package web

import (
	"testing"

	"chargewright/journal"
	"chargewright/system"
)

// What a workshop sees most is made ready first.
func TestByUse(t *testing.T) {
	var all []*kept
	for _, id := range []string{"a", "b", "c", "d"} {
		all = append(all, &kept{system: &system.System{ID: id}})
	}
	got := ""
	for _, k := range byUse(all, []journal.Line{{System: "c"}, {System: "d"}, {System: "c"}, {System: "gone"}}) {
		got += k.system.ID
	}
	if got != "cdab" {
		t.Errorf("the order is %s", got)
	}
}
