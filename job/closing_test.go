package job_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"chargewright/job"
	"chargewright/meter"
	"chargewright/question"
)

// happened is the opening of the frozen job with events after it.
func happened(t *testing.T, more ...job.Event) []job.Event {
	t.Helper()
	out := []job.Event{events(t)[0]}
	for i, e := range more {
		e.Seq, e.V = i+2, 1
		out = append(out, e)
	}
	return out
}

func event(t *testing.T, id string, kind job.Kind, body any) job.Event {
	t.Helper()
	b, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	return job.Event{ID: id, Kind: kind, Body: b}
}

func rest(t *testing.T, id, reading string, x float64) job.Event {
	return event(t, id, job.Took, job.ReadingBody{ID: reading, Procedure: "battery-rest-volts", Values: []job.ValueBody{{How: "measured", X: x}}})
}

// TestTakenBack: the job is as it was before, the entry stays.
func TestTakenBack(t *testing.T) {
	s := shelf(t)
	before := happened(t, rest(t, "a", "r1", 12.4))
	after := happened(t, rest(t, "a", "r1", 12.4), rest(t, "b", "r2", 1.24), event(t, "c", job.Withdrawn, job.WithdrawnBody{Event: "b", Why: "wrong point"}))
	x, err := job.Fold(before, s)
	if err != nil {
		t.Fatal(err)
	}
	y, err := job.Fold(after, s)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(x.Readings, y.Readings) || x.Rig != y.Rig || x.Known != y.Known || !reflect.DeepEqual(x.Assumed, y.Assumed) {
		t.Errorf("with a reading taken back the job differs: %+v and %+v", x.Readings, y.Readings)
	}
	if len(y.Entries) != 3 || !y.Entries[1].Back || y.Entries[0].Back || y.Entries[2].Kind != job.Withdrawn {
		t.Errorf("%+v", y.Entries)
	}
	if last, ok := job.Last(after); !ok || last.ID != "a" {
		t.Errorf("next to be taken back: %s, %v", last.ID, ok)
	}
	// The same event twice takes back once.
	twice := append(after, after[3])
	if z, err := job.Fold(twice, s); err != nil || !reflect.DeepEqual(y, z) {
		t.Errorf("sent twice: %v", err)
	}
	// Two in a row, the later first.
	both := append(after, job.Event{ID: "d", Kind: job.Withdrawn, V: 1, Body: []byte(`{"event":"a"}`)})
	if z, err := job.Fold(both, s); err != nil || len(z.Readings) != 0 {
		t.Errorf("both taken back: %v", err)
	}
	if _, ok := job.Last(both); ok {
		t.Error("the opening could be taken back")
	}
}

// TestTakenBackRefuses: only the last thing that stands is taken back, and no
// signature.
func TestTakenBackRefuses(t *testing.T) {
	s := shelf(t)
	signed := event(t, "s", job.Signed, job.SignedBody{Gone: "yes", Head: "00", Report: json.RawMessage(`{"format":1}`)})
	for name, c := range map[string]struct {
		events []job.Event
		want   string
	}{
		"nothing":       {happened(t, event(t, "c", job.Withdrawn, job.WithdrawnBody{Event: "a"})), "nothing stands"},
		"not the last":  {happened(t, rest(t, "a", "r1", 12), rest(t, "b", "r2", 12), event(t, "c", job.Withdrawn, job.WithdrawnBody{Event: "a"})), "take that back first"},
		"twice":         {happened(t, rest(t, "a", "r1", 12), event(t, "c", job.Withdrawn, job.WithdrawnBody{Event: "a"}), event(t, "d", job.Withdrawn, job.WithdrawnBody{Event: "a"})), "nothing stands"},
		"a signature":   {happened(t, signed, event(t, "c", job.Withdrawn, job.WithdrawnBody{Event: "s"})), "a signature is not taken back"},
		"its body":      {happened(t, rest(t, "a", "r1", 12), job.Event{ID: "c", Kind: job.Withdrawn, Body: []byte(`{"mood":1}`)}), "mood"},
		"nothing known": {happened(t, event(t, "p", job.Proved, job.ProvedBody{Readings: []string{"r9"}})), "no earlier reading is called r9"},
		"no sheet":      {happened(t, event(t, "s", job.Signed, job.SignedBody{Gone: "yes"})), "what was signed is not in it"},
	} {
		if _, err := job.Fold(c.events, s); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

// TestClosing: a wait, a proof and a signature stand until something else
// happens to the vehicle.
func TestClosing(t *testing.T) {
	s := shelf(t)
	list := happened(t,
		rest(t, "a", "r1", 12.4),
		event(t, "w", job.Waits, job.WaitsBody{For: "part", What: "brushes"}),
		event(t, "p", job.Proved, job.ProvedBody{Readings: []string{"r1"}, Covers: true, Leads: true}),
		event(t, "s", job.Signed, job.SignedBody{Gone: "yes", Head: "00", Report: json.RawMessage(`{"format":1}`)}),
		rest(t, "b", "r2", 12.5),
	)
	type state struct{ waits, proved, signed bool }
	for n, want := range []state{2: {}, 3: {waits: true}, 4: {waits: true, proved: true}, 5: {proved: true, signed: true}, 6: {}} {
		if n < 2 {
			continue
		}
		j, err := job.Fold(list[:n], s)
		if err != nil {
			t.Fatal(err)
		}
		if got := (state{j.Waits.For != "", j.Proved != nil, j.Signed != nil}); got != want {
			t.Errorf("after %d events %+v, want %+v", n, got, want)
		}
	}
	if _, ok := job.Last(list[:5]); ok {
		t.Error("a signature could be taken back")
	}
	goes := append(list[:3:3], job.Event{ID: "x", Kind: job.Waits, V: 1, Body: []byte(`{"for":"nothing"}`)})
	if j, err := job.Fold(goes, s); err != nil || j.Waits.For != "" {
		t.Errorf("it still waits: %v", err)
	}
}

func TestTyped(t *testing.T) {
	volts := question.Observable{Kind: question.Volts, Meter: "dmm", Note: "volts"}
	amps := question.Observable{Kind: question.Amps, Meter: "dc-clamp", Note: "amps", Optional: true}
	look := question.Observable{Kind: question.Look, Classes: []string{"sound", "cracked"}}
	clamp, _ := meter.Find("dc-clamp")
	for _, c := range []struct {
		o            question.Observable
		text, symbol string
		want         job.ValueBody
	}{
		{volts, "0.42", "V", job.ValueBody{How: "measured", X: 0.42}},
		{volts, " 0,42 V ", "mV", job.ValueBody{How: "measured", X: 0.42}},
		{volts, "420", "mV", job.ValueBody{How: "measured", X: 0.42}},
		{volts, "-3", "mV", job.ValueBody{How: "measured", X: -0.003}},
		{volts, "0.5 to 0.7", "V", job.ValueBody{How: "between", Lo: 0.5, Hi: 0.7}},
		{volts, "Under 0.1", "V", job.ValueBody{How: "under", Hi: 0.1}},
		{amps, "over", "A", job.ValueBody{How: "over", Lo: clamp.Ranges[0].Full}},
		{amps, "OL", "A", job.ValueBody{How: "over", Lo: clamp.Ranges[0].Full}},
		{amps, "over 10", "A", job.ValueBody{How: "over", Lo: 10}},
		{amps, "", "A", job.ValueBody{How: "not-taken"}},
		{look, "cracked", "", job.ValueBody{How: "class", Class: "cracked"}},
	} {
		got, err := job.Typed(c.text, c.symbol, c.o)
		if err != nil || !same(got, c.want) {
			t.Errorf("%q %s: %+v (%v), want %+v", c.text, c.symbol, got, err, c.want)
		}
	}
	for text, o := range map[string]question.Observable{"": volts, "lots": volts, "12 A": volts, "0.7 to 0.5": volts, "broken": look, "1e999": volts, "NaN": volts, "over 1 to 2": volts, "under 1 and over 2": volts} {
		if v, err := job.Typed(text, "V", o); err == nil {
			t.Errorf("%q is taken as %+v", text, v)
		}
	}
	for text, says := range map[string]string{"under": "does not say under what", "<": "does not say under what", "0.5 to": "has one end only", "to 0.7": "has one end only", "0.5 and": "has one end only"} {
		if _, err := job.Typed(text, "V", volts); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, want that it %s", text, err, says)
		}
	}
}

func same(a, b job.ValueBody) bool {
	const eps = 1e-12
	near := func(x, y float64) bool { return x-y < eps && y-x < eps }
	return a.How == b.How && a.Class == b.Class && near(a.X, b.X) && near(a.Lo, b.Lo) && near(a.Hi, b.Hi)
}
