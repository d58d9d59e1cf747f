package report_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"chargewright/identify"
	"chargewright/internal/schemas/schematest"
	"chargewright/job"
	"chargewright/report"
)

// lookedAndReopened is a job that was opened by what was seen, signed, and reopened.
func lookedAndReopened(t *testing.T) []job.Event {
	t.Helper()
	lib, err := identify.Library()
	if err != nil {
		t.Fatal(err)
	}
	w := opened(t)
	c := caseOf(t, w.events)
	b, err := job.IdentifiedBy(lib, c.Prepared.System, map[string]string{"terminals": "two-blades", "regulator": "sealed"})
	if err != nil {
		t.Fatal(err)
	}
	w.add(1, job.Identified, b).read(4, "r1", "battery-rest-volts", volts(12.45)...)
	sheet, err := report.Customer(t.Context(), caseOf(t, w.events))
	if err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(sheet)
	if err != nil {
		t.Fatal(err)
	}
	return w.add(5, job.Signed, job.SignedBody{Gone: "unknown", Head: "00", Report: data}).add(60, job.Reopened, job.ReopenedBody{Why: "came back, =same", Complaint: "back"}).events
}

// TestLooksAndReopening: the record tells of both in words and as data, holds to
// its schema, prints on both papers, and the table has a row for each look.
func TestLooksAndReopening(t *testing.T) {
	r, err := report.RecordOf(t.Context(), caseOf(t, lookedAndReopened(t)))
	if err != nil {
		t.Fatal(err)
	}
	looked, again := r.Events[1], r.Events[4]
	if looked.Identified == nil || len(looked.Identified.Looks) != 2 || looked.Identified.Probability <= 0.5 || !strings.HasPrefix(looked.Title, "Identified by 2 looks: isolated field") {
		t.Errorf("%+v", looked)
	}
	if !slices.Contains(looked.Says, "What has it besides the output stud and earth? Two field blades, each with its own wire") {
		t.Errorf("it says %q", looked.Says)
	}
	if again.Title != "Reopened" || again.Says[0] != "why: came back, =same" || again.Says[1] != "the complaint is back" || r.Standing != "open" || r.Events[3].Title != "Signed off" {
		t.Errorf("%s: %+v, %q", r.Standing, again, r.Events[3].Title)
	}
	s, err := schematest.Compile("output-report-record")
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := report.JSON(&b, r); err != nil {
		t.Fatal(err)
	}
	if err := schematest.Validate(s, b.Bytes()); err != nil {
		t.Error(err)
	}
	if err := schematest.Validate(s, bytes.Replace(b.Bytes(), []byte(`"kind": "reopened"`), []byte(`"kind": "opened again"`), 1)); err == nil {
		t.Error("the schema takes a kind that is none")
	}
	for _, p := range []report.Paper{report.A4, report.Letter} {
		text := strings.Join(strings.Fields(printed(t, r, p, "-raw")), " ")
		for _, want := range []string{"Identified by 2 looks", "Two field blades, each with its own wire", "Reopened", "came back, =same"} {
			if !strings.Contains(strings.ToLower(text), strings.ToLower(want)) {
				t.Errorf("%s lacks %q", p, want)
			}
		}
	}
	b.Reset()
	if err := report.CSV(&b, r); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 5 { // head, two looks, what they come to, the reading
		t.Fatalf("%d rows (%v)", len(rows), err)
	}
	col := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	for i, want := range [][3]string{
		{"What has it besides the output stud and earth?", "class", "two field blades, each with its own wire"},
		{"Where is the regulator?", "class", "a box of its own, flat and sealed or with transistors"},
	} {
		row := rows[i+1]
		if got := [3]string{col(row, "value"), col(row, "how"), col(row, "answer")}; got != want || col(row, "entry") != "2" || col(row, "what") != looked.Title || col(row, "counts") != "yes" {
			t.Errorf("%q", row)
		}
	}
	if row := rows[3]; col(row, "value") != "probability by what was seen [1]" || col(row, "how") != "computed" || !strings.HasPrefix(col(row, "answer"), "0.") {
		t.Errorf("%q", row)
	}
}
