package advice

import (
	"reflect"
	"testing"

	"chargewright/diagnosis"
)

// TestComplaintsThatLeaveTheBatteryAlike: two kinds of complaint with one state of charge
// share the compiled system and what is remembered of it; others have their own.
func TestComplaintsThatLeaveTheBatteryAlike(t *testing.T) {
	p := ready(t)
	desks := map[string]*Desk{}
	for _, kind := range []string{"no-charge", "flat-battery", "low-charge", "other"} {
		d, err := p.Shared(kind)
		if err != nil {
			t.Fatal(err)
		}
		desks[kind] = d
	}
	memory := func(p diagnosis.Prior) uintptr { return reflect.ValueOf(p).FieldByName("memory").Pointer() }
	for kind, alike := range map[string]bool{"flat-battery": true, "low-charge": false, "other": false} {
		d, first := desks[kind], desks["no-charge"]
		if (d.Model == first.Model) != alike || (memory(d.Prior) == memory(first.Prior)) != alike {
			t.Errorf("%s and no-charge: one model %t, one memory %t, want %t", kind, d.Model == first.Model, memory(d.Prior) == memory(first.Prior), alike)
		}
	}
	if desks["other"].Model != p.Base() {
		t.Error("a complaint that says nothing of the battery has a model of its own")
	}
}
