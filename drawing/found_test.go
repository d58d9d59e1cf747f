package drawing

import (
	"reflect"
	"testing"

	"chargewright/question"
	"chargewright/system"
)

// TestRememberedLeads: a picture is the same whether its leads were looked for or
// remembered from another one, and what is different is not mistaken for the same.
func TestRememberedLeads(t *testing.T) {
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	for _, lay := range []func(*system.System, int) (*Sheet, error){New, CloseUp} {
		sheet, err := lay(sys, Phone)
		if err != nil {
			t.Fatal(err)
		}
		fresh, err := lay(sys, Phone)
		if err != nil {
			t.Fatal(err)
		}
		first := Options{Rig: sys.Rig.Rest, Leads: []Lead{{Red: "stud", Black: "batp", Quantity: question.Volts}}, Close: sheet.close > 0}
		other := first
		other.Leads = []Lead{{Red: "batp", Black: "batn", Quantity: question.Volts}}
		lettered := first
		lettered.Causes = []Cause{{Letter: "H", Faults: []string{sys.Faults[0].ID}}}
		for _, o := range []Options{first, other, lettered, first} {
			a, err := sheet.Draw(o)
			if err != nil {
				t.Fatal(err)
			}
			fresh.found = &foundLeads{} // looks for everything
			b, err := fresh.Draw(o)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(a, b) {
				t.Errorf("%+v is drawn otherwise from memory", o.Leads)
			}
		}
		if n := len(sheet.found.by); n != 2 {
			t.Errorf("%d places are remembered of two hook-ups", n)
		}
	}
}
