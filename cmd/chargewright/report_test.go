package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"chargewright/internal/need"
	"chargewright/job"
	"chargewright/journal"
	sheets "chargewright/report"
	"chargewright/store"
	"chargewright/system"
)

// hashed holds every page of a PDF against the SHA-256 of a JSON file.
func hashed(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: hashed PDF JSON")
	}
	poppler, err := exec.LookPath("pdftotext")
	if err != nil {
		if v := os.Getenv(need.RequireAll); v != "" && v != "0" {
			ts.Fatalf("pdftotext is not here, and nothing may be skipped")
		}
		ts.Logf("pdftotext is not here: the pages are not looked at")
		return
	}
	sum := fmt.Sprintf("%x", sha256.Sum256([]byte(ts.ReadFile(args[1]))))
	text, err := exec.Command(poppler, "-layout", ts.MkAbs(args[0]), "-").Output()
	ts.Check(err)
	pages := strings.Split(strings.TrimRight(string(text), "\f\n"), "\f")
	for i, page := range pages {
		if !strings.Contains(page, sum) || !strings.Contains(page, fmt.Sprintf("page %d of %d", i+1, len(pages))) {
			ts.Fatalf("page %d of %d does not say so, or not the hash %s", i+1, len(pages), sum)
		}
	}
}

// TestReportOfJournal: a job of a workshop, on the system that it was opened with,
// with the name and plate that stand beside the journal; signed, it is the sheet
// that was signed.
func TestReportOfJournal(t *testing.T) {
	dir := t.TempDir()
	signed := shopWithJob(t, dir)
	out := answer(t, "report", "412", "--data", dir, "--kind", "record", "--json")
	satisfies(t, "output-report-record", out)
	var r sheets.Record
	if err := json.Unmarshal(out, &r); err != nil {
		t.Fatal(err)
	}
	if len(r.Events) != 4 || r.Standing != "signed" || r.Events[1].Person != "p-7" || r.Events[1].Device != "tablet-2" || r.Events[1].Recorded == nil {
		t.Errorf("%d entries, %s: %+v", len(r.Events), r.Standing, r.Events[1])
	}
	sheet := answer(t, "report", "j-1", "--data", dir, "--json")
	satisfies(t, "output-report-customer", sheet)
	if !strings.Contains(string(sheet), signed) {
		t.Errorf("the sheet is not the one that was signed:\n%s", sheet)
	}
	file := filepath.Join(dir, "sheet.pdf")
	answer(t, "report", "412", "--data", dir, "--zone", "Europe/Paris", "-o", file)
	text, err := exec.Command(need.Program(t, "pdftotext"), "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Bakery", "DEMO 1", signed, "25 November 2026, 13:00, by account p-7", "well done"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the paper lacks %q:\n%s", want, text)
		}
	}
	for _, c := range []struct {
		code int
		args []string
		want string
	}{
		{exitInput, []string{"report", "413", "--data", dir, "--json"}, "no job is called 413; write instead: 412"},
		{exitConflict, []string{"report", "twice", "--data", dir, "--json"}, "2 jobs are called twice"},
	} {
		var out, said bytes.Buffer
		e := &env{stdin: strings.NewReader(""), stdout: &out, stderr: &said, args: c.args}
		e.fs, e.cwd = disk()
		if code := run(e); code != c.code || out.Len() > 0 {
			t.Errorf("%v: exit %d, want %d; printed %q", c.args, code, c.code, out.String())
		}
		if said := said.String(); !strings.Contains(said, c.want) {
			t.Errorf("%v: %q, want %q", c.args, said, c.want)
		}
	}
}

// shopWithJob makes a workshop with a signed job and returns a sentence that only
// the signed sheet has.
func shopWithJob(t *testing.T, dir string) string {
	t.Helper()
	ctx := context.Background()
	db, err := store.Open(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	noon := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	book, err := journal.Open(ctx, db, func() time.Time { return noon })
	if err != nil {
		t.Fatal(err)
	}
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	// As read under another name, so that only the pinned bytes can serve.
	if err := book.Keep(ctx, journal.Sum(sha256.Sum256(sys.Source)), sys.Source); err != nil {
		t.Fatal(err)
	}
	if err := book.SetCustomer(ctx, journal.Customer{ID: "c-1", Name: "Bakery", Plate: "DEMO 1"}); err != nil {
		t.Fatal(err)
	}
	const sentence = "As it was signed: a sentence of its own."
	sheet, err := json.Marshal(sheets.Report{Format: sheets.Format, Job: "412", System: sys.Name, SystemSHA: strings.Repeat("0", 64), Practice: strings.Repeat("0", 64), Title: sentence, Wrong: []string{}, Done: []string{}, Before: []sheets.Pair{}, Readings: []sheets.Reading{}, Proof: "none", Watch: []string{}, Time: "1 min", Cost: "1", CostNote: "estimated", Assumed: []string{}, Events: 3, Engine: "older"})
	if err != nil {
		t.Fatal(err)
	}
	open := func(id string) job.OpenedBody {
		return job.OpenedBody{Job: id, System: sys.ID, SHA256: hex.EncodeToString(sys.SHA256[:]), Customer: "c-1", Complaint: &job.Complaint{Kind: "no-charge"}}
	}
	bodies := []any{
		open("412"),
		job.ReadingBody{ID: "r1", Procedure: "battery-rest-volts", Values: []job.ValueBody{{How: "measured", X: 12.1}}},
		job.RigBody{Rig: map[string]string{"engine": "off"}},
		job.SignedBody{Gone: "unknown", Note: "well done", Head: strings.Repeat("ab", 32), Report: sheet},
	}
	kinds := []job.Kind{job.Opened, job.Took, job.FoundRig, job.Signed}
	appendAll(t, book, "j-1", kinds, bodies)
	appendAll(t, book, "j-2", kinds[:1], []any{open("twice")})
	appendAll(t, book, "j-3", kinds[:1], []any{open("twice")})
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return sentence
}

func appendAll(t *testing.T, book *journal.Store, stream string, kinds []job.Kind, bodies []any) {
	t.Helper()
	var events []job.Event
	for i, b := range bodies {
		data, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, job.Event{ID: fmt.Sprintf("%s-e%d", stream, i+1), Kind: kinds[i], V: 1, Body: data, Person: "p-7", Device: "tablet-2", Engine: "older"})
	}
	if _, err := book.Append(context.Background(), stream, 0, events); err != nil {
		t.Fatal(err)
	}
}
