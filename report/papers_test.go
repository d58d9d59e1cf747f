package report_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"chargewright/advice"
	"chargewright/internal/near"
	"chargewright/internal/need"
	"chargewright/internal/schemas/schematest"
	"chargewright/report"
)

// TestRecordTellsAll: every event in order, with time, person and device; each
// value with hook-up, leads, meter, accuracy, limit, source, basis and the chance
// that it is within; corrections and what was taken back keep the original.
func TestRecordTellsAll(t *testing.T) {
	r, events := record(t), signed(t)
	if len(r.Events) != len(events) {
		t.Fatalf("%d entries of %d events", len(r.Events), len(events))
	}
	for i, e := range r.Events {
		if e.N != i+1 || e.ID != events[i].ID || e.Recorded == nil || !e.Recorded.Equal(events[i].Recorded) || e.Person != "p-7" || e.Device != "tablet-2" || e.Title == "" {
			t.Errorf("entry %d: %+v", i+1, e)
		}
		if !bytes.Equal(e.Body, events[i].Body) {
			t.Errorf("entry %d: the body is not as it was recorded", e.N)
		}
		if e.Reading == nil {
			continue
		}
		for _, v := range e.Reading.Values {
			if v.Quantity != "look" && (v.Meter == "" || v.Accuracy == "" || v.U <= 0 || v.Leads == "" || v.Shown == "" || v.Doubt == "") {
				t.Errorf("entry %d: %+v", e.N, v)
			}
			for _, l := range v.Limits {
				if l.Source == "" || l.Basis == "" || l.Words == "" || !strings.Contains(l.Likely, "%") || l.Call == "" || !strings.Contains(l.Call, "%") && !strings.HasPrefix(l.Call, "Not to be called yet: ") {
					t.Errorf("entry %d: a limit is told barely: %+v", e.N, l)
				}
			}
		}
		if len(e.Causes) == 0 {
			t.Errorf("entry %d: nothing said of the causes", e.N)
		}
	}
	// The reading off by a decade stays as it was entered, and says where it is
	// corrected; what counts stands at the correction.
	first, fixed := r.Events[4], r.Events[5]
	near.Check(t, "as entered", *first.Reading.Values[0].Value, 0.198, near.Tol{Rel: 1e-9}, "closed form: what was typed")
	near.Check(t, "as corrected", *fixed.Correction.Values[0].Value, 1.98, near.Tol{Rel: 1e-9}, "closed form: what was typed")
	if !slices.Equal(first.CorrectedBy, []int{6}) || fixed.Correction.Event != 5 || !strings.Contains(fixed.Correction.Was[0], "198.0") {
		t.Errorf("correction: %+v, %+v", first.CorrectedBy, fixed.Correction)
	}
	if c := first.Reading.Values[0].Call; !strings.HasPrefix(c, "Within the limit") {
		t.Errorf("as it was entered it was within: %q", c)
	}
	if c := fixed.Correction.Values[0].Call; !strings.HasPrefix(c, "Over the limit") {
		t.Errorf("as it was corrected it is over: %q", c)
	}
	if r.Events[6].BackBy != 8 || !strings.Contains(r.Events[7].Title, "entry 7") || !strings.Contains(strings.Join(r.Events[7].Says, ""), "wrong point") {
		t.Errorf("taken back: %d, %q", r.Events[6].BackBy, r.Events[7].Title)
	}
	// It moved the causes and moved them back: before it and after it was taken
	// back they stand alike. Source: closed form, the same readings count.
	before, after := lead(r.Events[5]), lead(r.Events[7])
	if x := r.Events[13]; x.Kind != "repair" || x.NothingLeft == nil || r.Events[12].NothingLeft != nil {
		t.Errorf("what the repair left: %+v", x.NothingLeft)
	}
	near.Check(t, "leading cause once it is taken back", after, before, near.Tol{Abs: 0.0002}, "closed form: the same readings")
}

// lead is the share of the cause that leads after an entry.
func lead(e report.Entry) float64 {
	most := 0.0
	for _, c := range e.Causes {
		if c.ID != "others" {
			most = max(most, c.After)
		}
	}
	return most
}

// TestInstruments: those that were to hand, with the ranges read in and when they
// were calibrated, where somebody said so.
func TestInstruments(t *testing.T) {
	by := map[string]report.Instrument{}
	for _, in := range record(t).Instruments {
		by[in.ID] = in
	}
	if dmm := by["dmm"]; !dmm.Used || dmm.Calibrated != "March 2026" || len(dmm.Ranges) < 2 || !strings.Contains(dmm.Ranges[0].Words, "0.5\u00a0%") {
		t.Errorf("%+v", dmm)
	}
	if clamp := by["ma-clamp"]; clamp.Used || clamp.Calibrated != "" || len(clamp.Ranges) != 0 {
		t.Errorf("%+v", clamp)
	}
}

// TestHash: the content hash is that of the JSON, whatever the paper and whoever
// it is for, and another value has another hash.
func TestHash(t *testing.T) {
	r := sampleRecord()
	var b bytes.Buffer
	if err := report.JSON(&b, r); err != nil {
		t.Fatal(err)
	}
	sum, err := report.SHA256(r)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "record.json")
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if got, err := exec.Command(need.Program(t, "sha256sum"), file).Output(); err != nil || !strings.HasPrefix(string(got), sum+" ") {
		t.Errorf("sha256sum says %s, the pages %s (%v)", got, sum, err)
	}
	r.Events[1].Reading.Values[0].Shown = "199.0\u00a0mV"
	if other, err := report.SHA256(r); err != nil || other == sum {
		t.Errorf("another value has the same hash (%v)", err)
	}
}

// printed writes a paper and has poppler read it.
func printed(t *testing.T, v any, p report.Paper, flags ...string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	var b bytes.Buffer
	var err error
	switch x := v.(type) {
	case report.Report:
		err = report.PDF(&b, x, front(p))
	case report.Record:
		err = report.RecordPDF(&b, x, front(p))
	case report.Card:
		err = report.CardPDF(&b, x, front(p))
	}
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command(need.Program(t, "pdftotext"), append(flags, file, "-")...).Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestRecordPrinted: poppler reads from the paper what the data hold, in the order
// in which it happened.
func TestRecordPrinted(t *testing.T) {
	r := record(t)
	for _, p := range []report.Paper{report.A4, report.Letter} {
		text := strings.Join(strings.Fields(printed(t, r, p, "-raw")), " ")
		at := 0
		for _, want := range []string{
			"Technician's record", "headlamps bright, battery always low", "give or take", "Instruments", "March 2026", "not given", "What happened, in order",
			"Opened: low charge", "25 Nov 2026 09:10 · Owner · tablet-2", "Belt, seen and felt", "Sound and tight", "red on 13 battery positive post (30), black on 14 battery negative post (31)",
			"Too near the limit to call", "Hook-up, as it was seen", "Corrected by entry 6", "Held by hand: load tester at 12 A", "198.0 mV", "NAVEDTRA 14273", "basis: read", "misread: range was 6 V", "It read (entry 5): 198.0 mV", "1.980 V",
			"Over the limit: under 1 % likely within", "Taken back by entry 8", "Took back entry 7", "Could not be taken: Specific gravity", "sealed", "Waits for a second pair of hands", "Goes on",
			"Repair repair-1", "pin A was green", "No fault on the list left:", "Proof taken as complete", "Signed off", "come back in a week for the drain", "Before and after the repairs", "The proof", "Technician", "Checked by",
		} {
			i := strings.Index(strings.ToLower(text[at:]), strings.ToLower(want))
			if i < 0 {
				t.Errorf("%s: %q does not stand behind what comes before it", p, want)
				continue
			}
			at += i
		}
	}
}

// TestCard: the next step and what is likely to follow, each with every caution
// of its hook-up and work, limits with their source, and blanks for what it reads.
func TestCard(t *testing.T) {
	c := caseOf(t, signed(t)[:9])
	k, ok := papers(t)["card half"].(report.Card)
	if !ok {
		t.Fatal("no card")
	}
	if len(k.Steps) < 2 || len(k.Steps) > 4 || len(k.Steps[0].When) != 0 {
		t.Fatalf("%d steps, the first after %v", len(k.Steps), k.Steps[0].When)
	}
	sum := 0.0
	for _, s := range k.Steps[1:] {
		if len(s.When) == 0 || s.Chance <= 0 || s.Name == k.Steps[0].Name {
			t.Errorf("step %d: %v, %v, %s", s.N, s.When, s.Chance, s.Name)
		}
		sum += s.Chance
	}
	if sum > 1.0001 {
		t.Errorf("the steps that follow are %.2f likely together", sum)
	}
	// As advice has the same step.
	in, err := standing(t, c)
	if err != nil {
		t.Fatal(err)
	}
	first := in.Advice.Next[0]
	told := map[string]bool{}
	for _, l := range k.Steps[0].Lines {
		for _, x := range l.Cautions {
			told[x.ID] = true
		}
		for _, x := range l.Again {
			if !told[x.ID] || x.Line >= l.N {
				t.Errorf("line %d points to line %d for %s, which does not stand there", l.N, x.Line, x.ID)
			}
		}
	}
	for _, x := range k.Steps[0].Cautions {
		told[x.ID] = true
	}
	for _, m := range first.Hookup {
		for _, x := range m.Cautions {
			if !told[x.ID] {
				t.Errorf("caution %s of %q is not on the card", x.ID, m.Say)
			}
		}
	}
	for _, x := range first.Body.Cautions {
		if !told[x.ID] {
			t.Errorf("caution %s of the test is not on the card", x.ID)
		}
	}
	if k.Steps[0].Procedure != first.Body.Procedure || len(k.Steps[0].Boxes) != len(first.Body.Leads) {
		t.Errorf("%s with %d boxes, want %s with %d", k.Steps[0].Procedure, len(k.Steps[0].Boxes), first.Body.Procedure, len(first.Body.Leads))
	}
	text := strings.Join(strings.Fields(printed(t, k, report.A4, "-raw")), " ")
	for _, want := range []string{"Job card", "See first that it stands so", "Hook-up", "Limit today, its source", "Reading, unit", "Time", "no. ____", "Notes", "At the vehicle now: ____", "red", "black", "Only after step 1, when"} {
		if !strings.Contains(text, want) {
			t.Errorf("the card lacks %q", want)
		}
	}
}

func standing(t *testing.T, c report.Case) (*advice.Standing, error) {
	t.Helper()
	j, err := foldOf(c)
	if err != nil {
		return nil, err
	}
	in := j.Input(c.Shelf.Practice, c.Shelf.Catalogue)
	in.Prepared = c.Prepared
	return advice.Stand(t.Context(), in)
}

// TestCardStates: before any reading, with the cure found, and mended: a repair is
// followed by its proof, and a proof begins with what must be back on.
func TestCardStates(t *testing.T) {
	found, ok := papers(t)["card found"].(report.Card)
	if !ok {
		t.Fatal("no card")
	}
	mended, err := report.CardOf(t.Context(), caseOf(t, signed(t)[:14]))
	if err != nil {
		t.Fatal(err)
	}
	if s := found.Steps; len(s) < 2 || s[0].Do != "repair" || s[0].Repair != "mend-bulkhead" || s[1].When[0] != "to prove it" || s[1].Procedure != "idle-volts" {
		t.Errorf("with the cure found: %+v", s)
	}
	if s := found.Steps[1]; len(s.Confirm) < 2 || !strings.Contains(s.Confirm[0], "earth cable last") {
		t.Errorf("the proof begins without %v", s.Confirm)
	}
	if s := mended.Steps; len(s) != 4 || s[0].Procedure != "idle-volts" || s[1].Procedure != "charge-volts" {
		t.Errorf("mended: %+v", s)
	}
	if e := found.Steps[1].Expect; len(e) == 0 || !strings.HasSuffix(e[0].Name, ", mended") {
		t.Errorf("the proof of a repair would read %+v", e)
	}
	for _, b := range mended.Steps[1].Boxes[:1] {
		if len(b.Limits) == 0 || b.Limits[0].At == nil || b.Limits[0].Source == "" || b.Limits[0].Basis == "" {
			t.Errorf("%s at 1250 rpm has no limit at today's temperature: %+v", b.Name, b.Limits)
		}
	}
}

// TestCSV: RFC 4180, one row for a value, its number in the column of its
// quantity, and what counts said.
func TestCSV(t *testing.T) {
	r := record(t)
	var b bytes.Buffer
	if err := report.CSV(&b, r); err != nil {
		t.Fatal(err)
	}
	if bytes.Count(b.Bytes(), []byte("\n")) != bytes.Count(b.Bytes(), []byte("\r\n")) {
		t.Error("a line does not end as RFC 4180 asks")
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	col := map[string]int{}
	for i, h := range rows[0] {
		col[h] = i
	}
	values := 0
	for _, e := range r.Events {
		switch {
		case e.Reading != nil:
			values += len(e.Reading.Values)
		case e.Correction != nil:
			values += len(e.Correction.Values)
		}
	}
	if len(rows)-1 != values {
		t.Errorf("%d rows for %d values", len(rows)-1, values)
	}
	sum, _ := report.SHA256(r)
	for _, row := range rows[1:] {
		if row[col["content sha256"]] != sum || row[col["job"]] != "412" {
			t.Errorf("%v", row)
		}
		filled := 0
		for name, i := range col {
			if strings.Contains(name, "[") && row[i] != "" {
				if _, err := strconv.ParseFloat(row[i], 64); err != nil {
					t.Errorf("%s: %q is no number", name, row[i])
				}
			}
		}
		for _, q := range []string{"DC volts [V]", "AC volts [V]", "current [A]", "resistance [Ohm]", "specific gravity [1]", "engine speed [r/min]"} {
			if row[col[q]] != "" {
				filled++
			}
		}
		if want := map[bool]int{true: 1}[row[col["how"]] == "measured"]; filled != want {
			t.Errorf("%d numbers in one row: %v", filled, row)
		}
	}
	find := func(entry string) []string {
		for _, row := range rows[1:] {
			if row[col["entry"]] == entry {
				return row
			}
		}
		t.Fatalf("no row of entry %s", entry)
		return nil
	}
	for entry, want := range map[string][3]string{"5": {"0.198", "corrected later", "0"}, "6": {"1.98", "yes", "0"}, "7": {"1.42", "taken back", "0"}, "17": {"0.486", "yes", "1"}} {
		row := find(entry)
		if got := [3]string{row[col["DC volts [V]"]], row[col["counts"]], row[col["repairs before [1]"]]}; got != want {
			t.Errorf("entry %s: %v, want %v", entry, got, want)
		}
	}
}

// TestFormulas: no text begins a formula, wherever a spreadsheet program may end
// a cell. Source: common practice of web security; memory.
func TestFormulas(t *testing.T) {
	for in, want := range map[string]string{
		"":                         "",
		"sound and tight":          "sound and tight",
		"=1+1":                     "'=1+1",
		"@SUM(A1)":                 "'@SUM(A1)",
		"+49 30":                   "'+49 30",
		"-2+3":                     "'-2+3",
		"  =1+1":                   "  '=1+1",
		"a;=cmd|' /C calc'!A0":     "a;'=cmd|' /C calc'!A0",
		"a,\"=1\"":                 "a,\"'=1\"",
		"a\t=1":                    "a 1",
		"＝1+1":                     "'＝1+1",
		"\u00a0=1":                 "\u00a0'=1",
		"wire a - b":               "wire a - b",
		"drop: 5 % + 2":            "drop: 5 % + 2",
		"line\r\n=1":               "line  =1",
		"\x00=1":                   "'=1",
		"bad\xffbytes":             "bad\ufffdbytes",
		"none; -; x":               "none; '-; x",
		"trailing,":                "trailing,",
		"it reads \"=1\"":          "it reads \"=1\"",
		"=HYPERLINK(\"http://x\")": "'=HYPERLINK(\"http://x\")",
	} {
		if in == "a\t=1" {
			want = "a =1" // the sign that ends a cell is gone with the tab
		}
		if got := report.Cell(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// TestSchemas: what is written satisfies its schema, in every state of the job.
func TestSchemas(t *testing.T) {
	for name, v := range papers(t) {
		schema := map[bool]string{true: "output-report-customer"}[strings.HasPrefix(name, "customer")]
		if strings.HasPrefix(name, "card") {
			schema = "output-report-card"
		}
		if schema == "" {
			schema = "output-report-record"
		}
		s, err := schematest.Compile(schema)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := report.JSON(&b, v); err != nil {
			t.Fatal(err)
		}
		if err := schematest.Validate(s, b.Bytes()); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if !json.Valid(b.Bytes()) {
			t.Errorf("%s is no JSON", name)
		}
	}
}

// TestSameBytes: the same job, worked out again, gives the same file; a paper
// without a date has none in the file. That another process gives the same is
// held where the command is (cmd/chargewright/testdata/report.txt).
func TestSameBytes(t *testing.T) {
	again, err := report.RecordOf(t.Context(), caseOf(t, signed(t)))
	if err != nil {
		t.Fatal(err)
	}
	pdf := func(r report.Record, c report.Cover) []byte {
		var b bytes.Buffer
		if err := report.RecordPDF(&b, r, c); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	if !bytes.Equal(pdf(record(t), front(report.A4)), pdf(again, front(report.A4))) {
		t.Error("the same job is not the same bytes")
	}
	undated := pdf(again, report.Cover{Paper: report.Letter})
	if bytes.Contains(undated, []byte("/CreationDate")) || bytes.Contains(undated, []byte("/ModDate")) {
		t.Error("a paper without a date is dated")
	}
	for _, want := range []string{"/Lang (en-GB)", "/Title", "/Keywords", "/Outlines"} {
		if !bytes.Contains(undated, []byte(want)) {
			t.Errorf("the file does not say %s", want)
		}
	}
}
