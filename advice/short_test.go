package advice_test

import (
	"strings"
	"testing"

	"chargewright/advice"
	"chargewright/system"
)

// TestShortCautions: what is left of a caution for whoever has read it names what is
// done or kept away from, for every caution of the library: it never ends at a
// colon, and no figure is cut in two.
func TestShortCautions(t *testing.T) {
	for text, want := range map[string]string{
		"Ignition on with the engine stopped: 2 min at most, the points coil overheats. Longer: coil lead off.": "Ignition on with the engine stopped: 2 min at most, the points coil overheats.",
		"Full field: load drawing first, aim at 15.0 V, let go at 15.5 V or after 15 s. Raise the speed only.":  "Full field: load drawing first, aim at 15.0 V, let go at 15.5 V or after 15 s.",
		"Hands clear of belt, pulley and fan; an electric fan can start by itself.":                             "Hands clear of belt, pulley and fan.",
		"Never pull a battery cable to see whether it charges.":                                                 "Never pull a battery cable to see whether it charges.",
	} {
		if got := (advice.Cautions{Text: text}).Short(); got != want {
			t.Errorf("%q is shortened to %q", text, got)
		}
		// What a page sets off is the same part, with its own stop.
		if head, rest := (advice.Cautions{Text: text}).Parts(); strings.TrimSpace(head+" "+rest) != text || head[:len(head)-1] != want[:len(want)-1] {
			t.Errorf("%q is parted into %q and %q", text, head, rest)
		}
	}
	for _, id := range system.Library() {
		sys, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range sys.Cautions {
			short := advice.Cautions{Text: c.Text}.Short()
			if !strings.HasSuffix(short, ".") || len(strings.Fields(short)) < 5 {
				t.Errorf("%s %s: %q says nothing by itself", id, c.ID, short)
			}
		}
	}
}
