package advice_test

import (
	"strings"
	"testing"

	"chargewright/advice"
	"chargewright/diagnosis"
	"chargewright/question"
	"chargewright/system"
)

// TestTheTellingValueComesFirst: of a test that reads the battery and both ends of the
// field, it is an end of the field that parts the causes of no charge, and a strip
// that parts nothing is first only where it stands alone.
func TestTheTellingValueComesFirst(t *testing.T) {
	in := pageJob(t)
	in.Complaint = "no-charge"
	s := standing(t, in)
	step, err := s.Take("field-feed-key-on")
	if err != nil {
		t.Fatal(err)
	}
	if got := step.Strips[advice.Telling(step.Strips)].Box; !strings.Contains(got, "field") {
		t.Errorf("%q is shown first of %d", got, len(step.Strips))
	}
	if got := advice.Telling(step.Strips[:1]); got != 0 {
		t.Errorf("of one strip the %d. is shown", got)
	}
}

// TestWhoseAmps: where two machines work on one line, a box for the amps of one says of
// which; where there is one, it is as short as it was.
func TestWhoseAmps(t *testing.T) {
	amps := []question.Observable{{Kind: question.Amps, Through: "w-charge", Meter: "dc-clamp", Note: "output amps"}}
	for id, want := range map[string]string{"coach-24": "output amps, first charge wire", "isolated-earth-side": "output amps"} {
		sys, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		if got := advice.LeadsOf(sys, amps)[0].Title(); got != want {
			t.Errorf("%s: the box is called %q, want %q", id, got, want)
		}
	}
	both := []question.Observable{{Kind: question.Amps, Through: "w-charge-2", Meter: "dc-clamp", Note: "amps of the second charge wire"}}
	sys, err := system.ByID("coach-24")
	if err != nil {
		t.Fatal(err)
	}
	if got := advice.LeadsOf(sys, both)[0].Title(); got != "amps of the second charge wire" {
		t.Errorf("said twice: %q", got)
	}
}

// TestProveTheRepair: once a repair has cured it, what comes next is its proof and not
// "nothing is wrong"; while the complaint is still there it is not.
func TestProveTheRepair(t *testing.T) {
	for cured, want := range map[string]bool{"yes": true, "no": false} {
		in := pageJob(t, "charge-volts", []float64{14.03, 11.8}, "drop-feed", []float64{1.98, 24.6}, "walk-bulkhead-a", []float64{1.57, 25.2}, "charge-volts", []float64{14.1, 11.8}, "drop-feed", []float64{0.52, 23.8}) // what the model gives: none of them is held for wrong
		for i := 3; i < 5; i++ {
			in.Readings[i].Epoch = 1
		}
		in.Repairs = []advice.Repair{{ID: "repair-1", Repair: "mend-bulkhead", Cured: diagnosis.Cured(cured)}}
		s := standing(t, in)
		first := s.Advice.Next[0]
		if want && len(first.Hookup) > 0 {
			t.Errorf("before the proof %q: its readings need the leads and the engine as they are", first.Hookup[0].Say)
		}
		if got := first.Name == "Prove the repair"; got != want {
			t.Errorf("cured %s: %s %q", cured, first.Do, first.Name)
		}
	}
}
