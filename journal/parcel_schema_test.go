package journal

import (
	"os"
	"strings"
	"testing"

	"chargewright/internal/schemas/schematest"
	"chargewright/internal/storetest"
)

// TestParcelSchema: what is written satisfies `chargewright schema export`, with
// and without the customer, and so does the example of the docs; what is
// built wrongly does not. What only numbers and hashes tell is ParseParcel's
// business (TestParseParcelBites).
func TestParcelSchema(t *testing.T) {
	schema, err := schematest.Compile("export")
	if err != nil {
		t.Fatal(err)
	}
	s, _ := three(t, storetest.SQLite)
	if err := s.SetCustomer(t.Context(), Customer{ID: "c1", Name: "N", Plate: "P", Contact: "C"}); err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile("../docs/journal-format.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(page), "```\n{\"chargewright\"")
	example, _, closed := strings.Cut("{\"chargewright\""+rest, "```")
	if !closed {
		t.Fatal("docs/journal-format.md has no example")
	}
	good := string(packed(t, s, "job-1", true))
	for name, file := range map[string]string{"with customer": good, "without": string(packed(t, s, "job-1", false)), "another": string(packed(t, s, "job-2", false)), "the docs'": example} {
		if err := schematest.ValidateLines(schema, []byte(file)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	lines := strings.SplitAfter(good, "\n") // head, content, 6 events, customer
	zeros := strings.Repeat("0", 64)
	for name, c := range map[string][2]string{
		"another file":      {`"chargewright":"job"`, `"chargewright":"system"`},
		"newer":             {`"format":1`, `"format":2`},
		"a head's key":      {`"events":`, `"happened":`},
		"a path":            {`"stream":"job-1"`, `"stream":"a/b"`},
		"no job's":          {`"stream":"job-1"`, `"stream":"people"`},
		"no events":         {`"events":6`, `"events":0`},
		"a short hash":      {`"hash":"`, `"hash":"0`},
		"no hash":           {`"prev":"` + zeros, `"prev":"g` + zeros[1:]},
		"no month":          {`"written":"2026-11`, `"written":"2026-13`},
		"no body":           {`"body":`, `"bodi":`},
		"both":              {`"body":`, `"base64":"AA==","body":`},
		"no base64":         {`"text":"`, `"base64":"%`},
		"a version as text": {`"v":1`, `"v":"1"`},
		"half a number":     {`"v":1`, `"v":1.5`},
		"never recorded":    {`"recorded":"`, `"recorded":"","x":"`},
		"not an opening":    {`"kind":"opened"`, `"kind":"reading"`},
		"a second number 1": {`"event":2,`, `"event":1,`},
		"no person's name":  {`"name":"N",`, ``},
		"two on a line":     {"}\n{", "}{"},
		"no kind of line":   {`"content":"`, `"contents":"`},
		"not an object":     {lines[1], "[1]\n"},
		"no head":           {lines[0], ""},
		"two heads":         {lines[1], lines[0] + lines[1]},
		"two customers":     {lines[8], lines[8] + lines[8]},
	} {
		spoilt := strings.Replace(good, c[0], c[1], 1)
		if name == "a second number 1" {
			spoilt = strings.Replace(spoilt, `"kind":"reading"`, `"kind":"opened"`, 1)
		}
		if spoilt == good {
			t.Errorf("%s: nothing was spoilt: the file has no %s", name, c[0])
		}
		if schematest.ValidateLines(schema, []byte(spoilt)) == nil {
			t.Errorf("%s satisfies the schema", name)
		}
		if _, err := ParseParcel("job.jsonl", []byte(spoilt)); err == nil {
			t.Errorf("%s is read: the schema refuses what is good", name)
		}
	}
}
