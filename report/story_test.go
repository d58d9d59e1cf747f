package report_test

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"sync"
	"testing"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/report"
	"chargewright/unit"
)

// shop is what the tests of this package share: the shelf, and the system made
// ready.
var shop = sync.OnceValues(func() (s struct {
	shelf    job.Shelf
	prepared *advice.Prepared
}, err error,
) {
	if s.shelf, err = job.Library(); err != nil {
		return s, err
	}
	sys, err := s.shelf.System("isolated-earth-side")
	if err != nil {
		return s, err
	}
	s.prepared, err = advice.Prepare(sys, s.shelf.Practice, s.shelf.Catalogue, advice.DefaultSettings())
	return s, err
})

// teller makes the events of a made-up job as a journal hands them out.
type teller struct {
	t      *testing.T
	at     time.Time
	events []job.Event
}

func (w *teller) add(minutes int, kind job.Kind, body any) *teller {
	w.t.Helper()
	b, err := json.Marshal(body)
	if err != nil {
		w.t.Fatal(err)
	}
	w.at = w.at.Add(time.Duration(minutes) * time.Minute)
	n := len(w.events) + 1
	w.events = append(w.events, job.Event{
		ID: fmt.Sprintf("e-%02d", n), Stream: "j-412", Seq: n, Kind: kind, V: 1, Body: b, At: w.at.Add(-5 * time.Second), Recorded: w.at,
		Device: "tablet-2", Person: "p-7", Seen: n - 1, Engine: "0.4.0",
	})
	return w
}

func volts(x ...float64) []job.ValueBody {
	var out []job.ValueBody
	for _, v := range x {
		out = append(out, job.ValueBody{How: "measured", X: v})
	}
	return out
}

func (w *teller) read(minutes int, id, procedure string, values ...job.ValueBody) *teller {
	return w.add(minutes, job.Took, job.ReadingBody{ID: id, Procedure: procedure, Values: values})
}

// opened begins the made-up job. Vehicle, customer, readings and people are
// invented.
func opened(t *testing.T) *teller {
	t.Helper()
	s, err := shop()
	if err != nil {
		t.Fatal(err)
	}
	air := unit.FromCelsius(18)
	w := &teller{t: t, at: time.Date(2026, 11, 25, 8, 10, 0, 0, time.UTC)}
	return w.add(0, job.Opened, job.OpenedBody{
		Job: "412", System: "isolated-earth-side", SHA256: hex.EncodeToString(s.prepared.System.SHA256[:]), Vehicle: job.Vehicle{Volts: 12, Note: "Made-up saloon, 1.6 litre"},
		Customer: "c-9", Opened: w.at, Conditions: &job.Conditions{Ambient: &air}, Meters: []string{"dmm", "dc-clamp", "ma-clamp"},
		Complaint: &job.Complaint{Kind: "low-charge", Words: "headlamps bright, battery always low", When: []string{"always"}, Before: []string{"battery-changed"}, Noticed: []string{"dim-lights"}},
	})
}

// whole is a job with an event of every kind but those of lookedAndReopened: a look, readings, one of them off
// by a decade and corrected, one taken back, hook-up lines, a test that could not
// be done, a wait, a repair, its proof and a signature.
func whole(t *testing.T) *teller {
	t.Helper()
	w := opened(t).
		read(6, "r1", "look-belt", job.ValueBody{How: "class", Class: "sound and tight"}).
		read(4, "r2", "battery-rest-volts", volts(12.45)...).
		add(3, job.FoundRig, job.RigBody{Rig: map[string]string{"brake": "held", "exhaust": "extracted"}, Leads: []string{"stud/batp", "w-charge"}}).
		read(9, "r3", "drop-feed", volts(0.198, 24.6)...).
		add(1, job.Corrected, job.CorrectBody{ID: "r3", Values: volts(1.980, 24.6), Why: "misread: range was 6 V"}).
		read(5, "r4", "drop-earth", volts(1.42, 24.0)...).
		add(1, job.Withdrawn, job.WithdrawnBody{Event: "e-07", Why: "wrong point"}).
		read(3, "r5", "drop-earth", volts(0.0521, 24.0)...).
		add(2, job.CouldNot, job.CouldNotBody{Procedure: "battery-density", Why: "sealed"}).
		add(1, job.Waits, job.WaitsBody{For: "hands", What: "second person for the run"}).
		add(25, job.Waits, job.WaitsBody{For: "nothing"}).
		read(8, "r6", "walk-bulkhead-a", volts(1.569, 25.2)...).
		add(35, job.Repaired, job.RepairBody{ID: "repair-1", Repair: "mend-bulkhead", What: "pin A was green; both pins renewed", Cured: "yes"})
	w.read(6, "r7", "idle-volts", volts(13.98, 11.2)[:len(seek(t, "idle-volts"))]...)
	w.read(4, "r8", "charge-volts", volts(14.21, 9.6)...)
	w.read(4, "r9", "drop-feed", volts(0.486, 21.4)...)
	return w.add(3, job.Proved, job.ProvedBody{Readings: []string{"r7", "r8", "r9"}, Covers: true, Leads: true, Missing: []string{"drain"}, Note: "drain over night"})
}

func seek(t *testing.T, procedure string) []struct{} {
	t.Helper()
	s, err := shop()
	if err != nil {
		t.Fatal(err)
	}
	return make([]struct{}, len(s.shelf.Catalogue[procedure].Seek()))
}

// caseOf is a case of the shared shop.
func caseOf(t *testing.T, events []job.Event) report.Case {
	t.Helper()
	s, err := shop()
	if err != nil {
		t.Fatal(err)
	}
	return report.Case{
		Events: events, Shelf: s.shelf, Prepared: s.prepared, Engine: "0.4.0", Zone: time.FixedZone("", 3600),
		Calibrated: map[string]string{"dmm": "March 2026"},
	}
}

// front is the cover that the tests print with.
func front(p report.Paper) report.Cover {
	return report.Cover{
		Workshop: "Gate Lane Auto-Electrical", Customer: "Bakery in the High Street", Plate: "DEMO 412", Paper: p,
		Date: time.Date(2026, 11, 25, 11, 0, 0, 0, time.UTC), Zone: time.FixedZone("", 3600), People: map[string]string{"p-7": "Owner"},
	}
}

// once keeps what several tests look at: it takes seconds to work out.
var once struct {
	sync.Mutex
	signed []job.Event
	record *report.Record
	papers map[string]any
}

// signed is the whole job, signed.
func signed(t *testing.T) []job.Event {
	t.Helper()
	once.Lock()
	defer once.Unlock()
	if once.signed == nil {
		once.signed = signOff(t)
	}
	return once.signed
}

// record is that job's.
func record(t *testing.T) report.Record {
	t.Helper()
	events := signed(t)
	once.Lock()
	defer once.Unlock()
	if once.record == nil {
		r, err := report.RecordOf(t.Context(), caseOf(t, events))
		if err != nil {
			t.Fatal(err)
		}
		once.record = &r
	}
	return *once.record
}

func signOff(t *testing.T) []job.Event {
	t.Helper()
	w := whole(t)
	r, err := report.Customer(t.Context(), caseOf(t, w.events))
	if err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	head := "fa6212624b6487587861ca6c60db2072dae545763881a173511afcd6dd622f6f"
	return w.add(5, job.Signed, job.SignedBody{Gone: "yes", Note: "come back in a week for the drain", Head: head, Report: data}).events
}

func foldOf(c report.Case) (*job.Job, error) { return job.Fold(c.Events, c.Shelf) }
