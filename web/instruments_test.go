package web

import (
	"encoding/json"
	"math"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"chargewright/job"
	"chargewright/report"
)

// TestCalibrationWords: how a calibration stands is said in words, by whole days.
func TestCalibrationWords(t *testing.T) {
	now := time.Date(2026, 11, 27, 23, 30, 0, 0, time.FixedZone("", 3600))
	for _, c := range []struct {
		calibrated, due, words string
		wanting                bool
	}{
		{"", "", "Calibration not known", true},
		{"2026-03-02", "", "Calibrated 2 March 2026, no day given for the next", false},
		{"2026-03-02", "2027-03-02", "Calibrated 2 March 2026, due 2 March 2027", false},
		{"2026-03-02", "2026-12-28", "Calibrated 2 March 2026, due 28 December 2026", false}, // 31 days
		{"2026-03-02", "2026-12-27", "Calibrated 2 March 2026. Due in 30 days, on 27 December 2026", true},
		{"2026-03-02", "2026-11-28", "Calibrated 2 March 2026. Due in 1 day, on 28 November 2026", true},
		{"2026-03-02", "2026-11-27", "Calibrated 2 March 2026. Due today", true},
		{"2025-11-26", "2026-11-26", "Calibrated 26 November 2025. Overdue by 1 day, since 26 November 2026", true},
	} {
		if words, wanting := calibrationWords(job.InstrumentBody{Calibrated: c.calibrated, Due: c.due}, now); words != c.words || wanting != c.wanting {
			t.Errorf("%s to %s: %q, %v; want %q, %v", c.calibrated, c.due, words, wanting, c.words, c.wanting)
		}
	}
}

// enterInstrument enters one and returns its address.
func (s *shop) enterInstrument(t *testing.T, kind string, pairs ...string) string {
	t.Helper()
	f := s.get(t, "/instruments/new?meter="+kind).want(t, 200).form(t, "/instruments", pairs...)
	s.ask(t, http.MethodPost, "/instruments", f).want(t, 303)
	s.ask(t, http.MethodPost, "/instruments", f).want(t, 303) // sent twice it is there once
	return "/instruments/i-" + f.Get("event")
}

// TestInstruments: a reading keeps the instrument that it was taken with, and its
// calibration as it stood then, whatever becomes of the instrument; its own
// figures are those that the reading counts with.
func TestInstruments(t *testing.T) {
	s := newShop(t, false)     // a list of its own: in the others' shop every reading would name it
	s.readyFrom(t, theShop(t)) // once for all tests

	bad := s.get(t, "/instruments/new?meter=dmm").form(t, "/instruments", "calibrated", "2 March", "due", "2026-03-01", "percent-volts", "about one", "percent-ohms", "0", "counts-ohms", "0")
	s.ask(t, http.MethodPost, "/instruments", bad).want(t, 422, "Write what it is called here", "“2 March” is no day", "wants that of the last one", "DC volts: write plain numbers", "Resistance: no instrument is exact", "5 places")
	own := s.enterInstrument(t, "dmm", "name", "M-3", "serial", "4711", "calibrated", "2026-03-02", "due", "2036-03-02", "percent-volts", "0,1", "counts-volts", "1", "source", "data sheet, page 4")
	other := s.enterInstrument(t, "dmm", "name", "M-4")
	s.enterInstrument(t, "dc-clamp", "name", "C-1", "calibrated", "2020-01-01", "due", "2021-01-01")
	s.get(t, "/instruments").want(t, 200, "M-3, no. 4711", "Calibration not known", "Overdue by", "2 instruments want looking after")

	at := s.newJob(t)
	here := url.Values{"here-dmm": {strings.TrimPrefix(own, "/instruments/")}}
	chosen := with(session(s.ask(t, http.MethodPost, "/instruments/here", here).want(t, 303)))
	s.get(t, at+"?key=do:charge-volts").want(t, 200, "Hand-held multimeter: which one is not said", "C-1 (Calibrated 1 January 2020. Overdue")
	f := s.ask(t, http.MethodGet, at+"?key=do:charge-volts", nil, chosen).want(t, 200, "Read with M-3, no. 4711; C-1").form(t, at+"/readings", "v0", "12.40 V", "v1", "8.0 A")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303) // the form names them, whatever the device says by then
	f = s.get(t, at+"/readings/r1/correct").form(t, "", "v0", "12.50 V", "v1", "8.0 A", "why", "misread")
	s.ask(t, http.MethodPost, at+"/readings/r1/correct", f).want(t, 303)

	// Calibrated anew, then withdrawn: the reading says what was so.
	f = s.get(t, own).want(t, 200, "Withdraw it").form(t, own, "meter", "dmm", "name", "M-3", "calibrated", "2026-11-20")
	s.ask(t, http.MethodPost, own, f).want(t, 303)
	f = s.get(t, own).form(t, own)
	f.Set("do", "withdraw")
	f.Set("why", "fell off the wing")
	s.ask(t, http.MethodPost, own, f).want(t, 303)
	s.get(t, own).want(t, 200, "Withdrawn.", "fell off the wing", "Calibrated 2 March 2026, due 2 March 2036", "Take it back into use")
	s.read(t, at, "battery-rest-volts", "12.4").want(t, 303) // the only one left is it

	var bodies []job.ReadingBody
	var fixed job.CorrectBody
	for _, e := range s.events(t, at) {
		var b job.ReadingBody
		switch {
		case e.Kind == job.Took && json.Unmarshal(e.Body, &b) == nil:
			bodies = append(bodies, b)
		case e.Kind == job.Corrected && json.Unmarshal(e.Body, &fixed) != nil:
			t.Error("the correction cannot be read")
		}
	}
	if len(bodies) != 2 || len(bodies[0].Instruments) != 2 || len(bodies[1].Instruments) != 1 || "/instruments/"+bodies[1].Instruments[0].ID != other {
		t.Fatalf("%+v", bodies)
	}
	// By hand as in job's TestStandards; 12.5 V: a = 12.5 mV + 10 mV.
	for what, c := range map[string]struct{ u, a float64 }{"entered": {bodies[0].Values[0].U, 22.4}, "corrected": {fixed.Values[0].U, 22.5}} {
		if want := math.Sqrt(c.a*c.a/3+100./12+0.25) * 1e-3; math.Abs(c.u-want) > 1e-12 {
			t.Errorf("%s: u = %g V, want %g V", what, c.u, want)
		}
	}
	if bodies[0].Values[1].U != 0 {
		t.Error("a clamp without figures of its own counts with some")
	}
	s.get(t, at+"/record").want(t, 200, "M-3, no. 4711: calibrated 2 March 2026, due 2 March 2036", "own figures: ±", "data sheet, page 4", "C-1: calibrated 1 January 2020", "M-4: calibration not known")
	var r report.Record
	if err := json.Unmarshal([]byte(s.get(t, at+"/record.json").body), &r); err != nil {
		t.Fatal(err)
	}
	for _, in := range r.Instruments {
		if in.ID == "dmm" && (len(in.Named) != 2 || in.Named[0].Calibrated != "2026-03-02" || in.Named[0].Readings != 1) {
			t.Errorf("%+v", in.Named)
		}
	}
	text, _ := printed(t, s.get(t, at+"/record.pdf").body)
	if !strings.Contains(text, "M-3, no. 4711") {
		t.Error("the printed record does not name the instrument")
	}
	if csv := s.get(t, at+"/record.csv").body; !strings.Contains(csv, "M-3, no. 4711") {
		t.Error("the table does not name the instrument")
	}
}
