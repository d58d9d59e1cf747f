package advice

import "testing"

// TestLeadsStay: where the engine turns from before a step to its reading nobody moves a
// lead, and the step says so; where it is stopped on the way, or stands, they go on.
// Source: docs/models/safety.md R3.
func TestLeadsStay(t *testing.T) {
	d := &Desk{Prepared: ready(t)}
	rest := map[string]string{"engine": "off"}
	running := map[string]string{"engine": "fast"}
	slower, stop := Move{Place: "engine", From: "fast", To: "idle"}, Move{Place: "engine", From: "idle", To: "off"}
	start := Move{Place: "engine", From: "off", To: "idle"}
	for _, c := range []struct {
		name  string
		from  map[string]string
		moves []Move
		stay  bool
	}{
		{"slower", running, []Move{slower}, true},
		{"as it runs", running, nil, true},
		{"stopped on the way", running, []Move{slower, stop, start}, false},
		{"started", rest, []Move{start}, false},
		{"at rest", rest, nil, false},
	} {
		if got := d.leadsStay(Step{FromRig: c.from, Hookup: c.moves}); got != c.stay {
			t.Errorf("%s: the leads stay: %v", c.name, got)
		}
	}
	in := Input{Complaint: "no-charge", Readings: taken(t, ready(t), "rotor-open", "charge-volts")}
	for _, s := range ask(t, in).Next {
		if want := d.leadsStay(s) && s.Do != "repair"; s.LeadsStay != want {
			t.Errorf("%s: the leads stay: %v", s.Name, s.LeadsStay)
		}
	}
}
