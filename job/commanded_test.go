package job

import (
	"context"
	"testing"

	"chargewright/advice"
)

// TestCommandedIdleIsNoFault: 12.2 to 12.9 V at idle with a full battery is in order
// on a commanded vehicle (source: common practice). No limit stands outside, no
// repair is proposed and no fault has even half. A load that then finds 14.4 V puts
// nothing wrong in front of every fault; by rate alone it has 5.5 of 100 jobs.
func TestCommandedIdleIsNoFault(t *testing.T) {
	shelf, err := Library()
	if err != nil {
		t.Fatal(err)
	}
	const head = `format: 1
id: idle
system: commanded
complaint: {kind: other, words: "somebody measured 12.6 V with the engine running"}
meters: [dmm, dc-clamp, control-unit]
log:
  - battery-rest-volts: 12.66 V
  - idle-volts: [12.62 V, 13.4 A]
  - readout-idle: [12.6 V, -0.4 A, 12.62 V]
`
	for _, c := range []struct {
		name, more string
		leads      bool // nothing wrong is in front of every fault
	}{
		{"idle alone", "", false},
		{"load forced", "  - loaded-output: [14.38 V, 62.4 A]\n  - readout-loads: [14.5 V, 4.1 A, 14.52 V]\n", true},
	} {
		j, err := Read("idle.yaml", []byte(head+c.more), shelf)
		if err != nil {
			t.Fatal(err)
		}
		a, err := advice.Ask(context.Background(), input(t, j, shelf.PracticeOf(j.System)))
		if err != nil {
			t.Fatal(err)
		}
		for id, r := range a.Readings {
			for _, v := range r.Values {
				if v.Verdict == "outside" {
					t.Errorf("%s: %s is called outside", c.name, id)
				}
			}
		}
		first := a.Suspects[0]
		t.Logf("%s: nothing wrong %.2f, first %s %.2f", c.name, a.NoFault, first.ID, first.Probability)
		if first.Probability >= 0.5 || c.leads && a.NoFault <= first.Probability {
			t.Errorf("%s: nothing wrong has %.2f, %s %.2f", c.name, a.NoFault, first.ID, first.Probability)
		}
		if n := a.Next[0].Body; n.Repair != "" {
			t.Errorf("%s: proposes %s", c.name, n.Repair)
		}
	}
}
