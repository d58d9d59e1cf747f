package report_test

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"chargewright/advice"
	"chargewright/internal/need"
	"chargewright/job"
	"chargewright/report"
)

// mended is the shipped example with a repair and one reading of the proof.
const mended = `
format: 1
id: A-17
system: isolated-earth-side
vehicle: {volts: 12 V, note: "Saloon <1.6>"}
complaint: {kind: low-charge, words: "always low"}
conditions: {ambient: 20 degC}
meters: [dmm, dc-clamp]
log:
  - battery-rest-volts: 12.15 V
  - drop-feed: [1.980 V, 24.6 A]
  - walk-bulkhead-a: [1.569 V, 25.2 A]
  - repair: {repair: mend-bulkhead, what: "pin A was green", cured: "yes"}
  - drop-feed: [0.310 V, 24.0 A]
`

func made(t *testing.T, file string) report.Report {
	t.Helper()
	shelf, err := job.Library()
	if err != nil {
		t.Fatal(err)
	}
	j, err := job.Read("job.yaml", []byte(file), shelf)
	if err != nil {
		t.Fatal(err)
	}
	in := j.Input(shelf.Practice, shelf.Catalogue)
	if in.Prepared, err = advice.Prepare(j.System, shelf.Practice, shelf.Catalogue, in.Settings); err != nil {
		t.Fatal(err)
	}
	s, err := advice.Stand(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	return report.Of(j, s, 6, "0.4.0")
}

func TestReport(t *testing.T) {
	r := made(t, mended)
	if r.Title != "Charging system: found and mended" || len(r.Wrong) == 0 || !strings.Contains(r.Wrong[0], "ulkhead") || !strings.Contains(r.Wrong[0], "likely") {
		t.Errorf("%s: %v", r.Title, r.Wrong)
	}
	if len(r.Done) != 1 || !strings.Contains(r.Done[0], "pin A was green") || !strings.Contains(r.Done[0], "the complaint is gone") {
		t.Errorf("done: %v", r.Done)
	}
	// Before, after and the limit are in one unit: source: closed form, 310.0 mV is 0.310 V.
	if want := (report.Pair{Name: "Voltage drop, stud to battery positive", Limit: "0.7\u00a0V at most, NAVEDTRA 14273 ch. 2 p. 2-24", Before: "1.980\u00a0V", After: "0.310\u00a0V"}); len(r.Before) != 1 || plainPair(r.Before[0]) != want {
		t.Errorf("before and after: %+v", r.Before)
	} else if x := r.Before[0].Scale; x == nil || x.Low != nil || x.High == nil || x.Before == nil || !(0 < x.After && x.After < *x.High && *x.High < *x.Before && *x.Before < 1) {
		t.Errorf("on the axis: %+v", x)
	}
	if !strings.HasPrefix(r.Proof, "1 of 6 readings") || len(r.Watch) != 1 {
		t.Errorf("proof: %s, %v", r.Proof, r.Watch)
	}
	// As a signature keeps it.
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	if back, err := report.Parse(data); err != nil || !reflect.DeepEqual(back, r) {
		t.Errorf("it does not come back from its JSON: %v", err)
	}
	if _, err := report.Parse([]byte(`{"format":2}`)); err == nil {
		t.Error("a newer format is read")
	}
	before := made(t, mended[:strings.Index(mended, "  - repair")])
	if before.Title != "Charging system: looked at" || len(before.Before) != 0 || !strings.Contains(before.Proof, "nothing was proved") {
		t.Errorf("without a repair: %s, %+v, %s", before.Title, before.Before, before.Proof)
	}
}

// plainPair is a pair without its place on the axis.
func plainPair(p report.Pair) report.Pair {
	p.Scale = nil
	return p
}

// TestPDF: the same sheet is the same bytes, and poppler reads from it what was
// written.
func TestPDF(t *testing.T) {
	r := made(t, mended)
	c := report.Cover{Workshop: "Test shop", Customer: "Someone", Plate: "AB 12", Date: time.Date(2026, 11, 27, 10, 0, 0, 0, time.UTC), Signed: "27 November 2026, by Owner", Head: strings.Repeat("ab", 32)}
	var one, two bytes.Buffer
	if err := report.PDF(&one, r, c); err != nil {
		t.Fatal(err)
	}
	if err := report.PDF(&two, r, c); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(one.Bytes(), two.Bytes()) {
		t.Error("the same sheet is not the same bytes")
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, one.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command(need.Program(t, "pdftotext"), "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"found and mended", "Saloon <1.6>, AB 12, Someone", "Test shop", "always low", "pin A was green", "1.980 V", "0.310 V", "310.0 mV", "NAVEDTRA", "by Owner", "page 1 of 1", "ababab"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the paper lacks %q:\n%s", want, text)
		}
	}
}
