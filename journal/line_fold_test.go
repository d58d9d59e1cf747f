package journal

import (
	"encoding/json"
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"chargewright/internal/storetest"
	"chargewright/job"
	"chargewright/system"
)

// shown is what a line says of a job that its fold says too.
type shown struct {
	Readings, Repairs int
	Cured, Waits      string
	Proved, Signed    bool
}

// ofFold is the same from the fold: the oracle.
func ofFold(j *job.Job) shown {
	out := shown{Readings: len(j.Readings), Repairs: len(j.Repairs), Waits: j.Waits.For, Proved: j.Proved != nil, Signed: j.Signed != nil}
	for _, e := range j.Entries {
		if e.Back {
			continue
		}
		switch b := e.Body.(type) {
		case job.RepairBody:
			out.Cured = b.Cured
		case job.ReopenedBody:
			out.Cured = ""
		}
	}
	return out
}

// drawn draws an event that may follow, or may not: the fold decides.
func drawn(r *rapid.T, n int, events []job.Event) job.Event {
	event := func(kind job.Kind, body any) job.Event {
		b, err := json.Marshal(body)
		if err != nil {
			r.Fatal(err)
		}
		return job.Event{ID: fmt.Sprintf("e%d", n), Kind: kind, V: 1, Body: b}
	}
	pick := func(what string, from ...string) string { return rapid.SampledFrom(from).Draw(r, what) }
	values := []job.ValueBody{{How: "measured", X: 12.4}}
	switch pick("kind", "reading", "reading", "repair", "repair", "withdraw", "withdraw", "withdraw any", "wait", "prove", "sign", "sign", "reopen", "reopen", "identified", "correct", "rig", "could-not") {
	case "reading":
		return event(job.Took, job.ReadingBody{ID: fmt.Sprintf("r%d", n), Procedure: "battery-rest-volts", Values: values})
	case "repair":
		return event(job.Repaired, job.RepairBody{ID: fmt.Sprintf("x%d", n), What: "said", Cured: pick("cured", "yes", "no", "unknown")})
	case "withdraw":
		last, _ := job.Last(events) // with none, the fold refuses
		return event(job.Withdrawn, job.WithdrawnBody{Event: last.ID})
	case "wait":
		return event(job.Waits, job.WaitsBody{For: pick("for", job.WaitWords...)})
	case "prove":
		return event(job.Proved, job.ProvedBody{Readings: []string{}})
	case "sign":
		return event(job.Signed, job.SignedBody{Gone: "yes", Report: json.RawMessage(`{"format":1}`)})
	case "reopen":
		return event(job.Reopened, job.ReopenedBody{Why: "came back", Complaint: pick("complaint", "", "back", "not-back")})
	case "identified":
		return event(job.Identified, job.IdentifiedBody{System: "isolated-earth-side", Looks: []job.LookBody{{Look: "a", Answer: "b", Ask: "What?", Say: "that"}}})
	case "correct":
		return event(job.Corrected, job.CorrectBody{ID: fmt.Sprintf("r%d", rapid.IntRange(1, n).Draw(r, "which")), Values: values, Why: "misread"})
	case "rig":
		return event(job.FoundRig, job.RigBody{Rig: map[string]string{}})
	case "could-not":
		return event(job.CouldNot, job.CouldNotBody{Procedure: "drop-feed", Why: "no reach"})
	}
	return event(job.Withdrawn, job.WithdrawnBody{Event: fmt.Sprintf("e%d", rapid.IntRange(0, n).Draw(r, "event"))})
}

// TestLineIsTheFold: whatever happens to a job, with what is taken back in
// between, the list says of it what the fold of the same events says. An event
// that the fold refuses is not recorded, as in the pages.
func TestLineIsTheFold(t *testing.T) {
	t.Parallel()
	shelf, err := job.Library()
	if err != nil {
		t.Fatal(err)
	}
	sys, err := shelf.System("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	shelf.System = func(string) (*system.System, error) { return sys, nil } // read once, not at each fold
	taken, opened := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		const stream = "j"
		first := job.Event{ID: stream + "-e0", Kind: job.Opened, V: 1, Body: body(t, job.OpenedBody{System: "isolated-earth-side"})}
		events, rows := []job.Event{first}, []*stored{}
		for n := range rapid.IntRange(1, 30).Draw(r, "events") {
			e := first
			if n > 0 {
				e = drawn(r, n, events)
				with := append(events[:len(events):len(events)], e)
				if _, err := job.Fold(with, shelf); err != nil {
					continue
				}
				events = with
			}
			e.Stream, e.Seq = stream, len(events)
			rows = append(rows, toStored(&e, int64(len(rows)+1), nil, nil))
			j, err := job.Fold(events, shelf)
			if err != nil {
				r.Fatal(err)
			}
			l, err := lineOf(rows)
			if err != nil {
				r.Fatal(err)
			}
			if e.Kind == job.Withdrawn {
				taken++
			}
			if e.Kind == job.Reopened {
				opened++
			}
			got := shown{l.Readings, l.Repairs, l.Cured, l.Waits, l.Proved, l.Signed}
			if want := ofFold(j); got != want || !l.isJob || l.Seq != len(events) {
				r.Fatalf("after event %d (%s %s) the line says %+v, the fold %+v", l.Seq, e.Kind, e.Body, got, want)
			}
		}
	})
	if taken == 0 || opened == 0 {
		t.Error("nothing was taken back, or no job reopened: this test looks at the wrong thing")
	}
}

// TestNothingElseIsTakenBack: an event that asks to take back the opening, a
// signature or what is not the last leaves the line as it was. The fold refuses
// such a job; the list still shows it.
func TestNothingElseIsTakenBack(t *testing.T) { storetest.Each(t, onNothingElseIsTakenBack) }

func onNothingElseIsTakenBack(t *testing.T, k storetest.Kind) {
	s, _ := unsynced(t, k)
	back := func(id, of string) job.Event {
		return job.Event{ID: id, Kind: job.Withdrawn, V: 1, Body: fmt.Appendf(nil, `{"event":%q}`, of)}
	}
	must(t)(s.Append(t.Context(), "j", 0, []job.Event{
		opening(t, "o", job.OpenedBody{Job: "A 1"}), reading("r1"), reading("r2"),
		{ID: "s", Kind: job.Signed, V: 1, Body: []byte(`{"gone":"yes"}`)},
		back("b1", "o"), back("b2", "s"), back("b3", "r1"), back("b4", "elsewhere"),
	}))
	l, err := s.Line(t.Context(), "j")
	if err != nil || l.Job != "A 1" || l.Readings != 2 || !l.Signed {
		t.Errorf("%+v %v", l, err)
	}
	if lines, _ := jobs(t, s, Query{}); len(lines) != 1 {
		t.Error("the job is gone from the list")
	}
	sound(t, s)
}
