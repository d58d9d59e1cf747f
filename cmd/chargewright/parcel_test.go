package main

import (
	"bytes"
	"crypto/sha256"
	"os"
	"path/filepath"
	"testing"
	"time"

	"chargewright/internal/schemas/schematest"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/store"
)

// TestEveryExampleAsExport: each example's job, exported, satisfies the schema and
// is read again.
func TestEveryExampleAsExport(t *testing.T) {
	schema, err := schematest.Compile("export")
	if err != nil {
		t.Fatal(err)
	}
	shelf, err := job.Library()
	if err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(t.Context(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = db.Close() }() // the directory goes
	book, err := journal.Open(t.Context(), db, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob("../../examples/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	exported := 0
	for _, file := range files {
		name := filepath.Base(file)
		if matched, _ := filepath.Match("figures-*", name); matched {
			continue // no job
		}
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		events, err := job.Parse(name, data, shelf)
		if err != nil {
			t.Fatal(err)
		}
		j, err := job.Fold(events, shelf)
		if err != nil {
			t.Fatal(err)
		}
		for i := range events {
			events[i].ID = name + "-" + events[i].ID
		}
		if err := book.Keep(t.Context(), journal.Sum(sha256.Sum256(j.System.Source)), j.System.Source); err != nil {
			t.Fatal(err)
		}
		if _, err := book.Append(t.Context(), name, 0, events); err != nil {
			t.Fatal(err)
		}
		p, err := book.Pack(t.Context(), name, true, version)
		if err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		if err := p.Write(&out); err != nil {
			t.Fatal(err)
		}
		if err := schematest.ValidateLines(schema, out.Bytes()); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if back, err := journal.ParseParcel(name, out.Bytes()); err != nil || back.Last() != p.Last() {
			t.Errorf("%s is not read as it was written (%v)", name, err)
		}
		exported++
	}
	if exported < 10 {
		t.Errorf("only %d examples were exported", exported)
	}
}
