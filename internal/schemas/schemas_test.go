package schemas_test

import (
	"os"
	"path/filepath"
	"testing"

	"chargewright/internal/schemas"
	"chargewright/internal/schemas/schematest"
)

// repository is where the files stand that the schemas describe.
const repository = "../../"

// TestFilesAreValid: every shipped and frozen file satisfies its schema.
func TestFilesAreValid(t *testing.T) {
	if len(schemas.All()) < 4 {
		t.Fatalf("only %d schemas", len(schemas.All()))
	}
	for _, c := range []struct{ schema, pattern string }{
		{"system", "system/library/*-side*.yaml"},
		{"system", "system/library/*-24.yaml"},
		{"system", "system/testdata/good/*.yaml"},
		{"procedure", "system/library/procedures/*.yaml"},
		{"practice", "system/library/practice.yaml"},
		{"practice", "system/library/practice/*.yaml"},
		{"practice", "system/testdata/practice/*.yaml"},
		{"job", "job/testdata/v1/*.yaml"},
		{"figures", "examples/figures-*.yaml"},
		{"figures", "fit/testdata/good/*.yaml"},
	} {
		each(t, c.schema, c.pattern, func(file string, err error) {
			if err != nil {
				t.Errorf("%s: %v", file, err)
			}
		})
	}
}

// TestBadFilesAreRefused: what is structurally wrong is refused by the schema
// too. Files that are wrong only in what they mention, or in units, are the
// loaders' business and are left out.
func TestBadFilesAreRefused(t *testing.T) {
	for _, c := range []struct{ schema, pattern string }{
		{"system", "system/testdata/bad/missing.yaml"},
		{"system", "system/testdata/bad/faults.yaml"},
		{"system", "system/testdata/bad/params.yaml"},
		{"system", "system/testdata/bad/units.yaml"},
		{"system", "system/testdata/bad/limits.yaml"},
		{"system", "system/testdata/bad/places.yaml"},
		{"procedure", "question/testdata/bad/*.yaml"},
		{"practice", "system/testdata/bad-practice/*.yaml"},
		{"job", "job/testdata/bad/opening.yaml"},
		{"job", "job/testdata/bad/log.yaml"},
		{"job", "job/testdata/bad/both.yaml"},
	} {
		each(t, c.schema, c.pattern, func(file string, err error) {
			if err == nil {
				t.Errorf("%s satisfies its schema", file)
			}
		})
	}
}

func each(t *testing.T, schema, pattern string, report func(file string, err error)) {
	t.Helper()
	s, err := schematest.Compile(schema)
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(repository + pattern)
	if err != nil || len(files) == 0 {
		t.Fatalf("no files for %s (%v)", pattern, err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		report(file, schematest.Validate(s, data))
	}
}
