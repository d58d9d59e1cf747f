package fit

import (
	"os"
	"path/filepath"
	"sync"
	"testing"

	"chargewright/internal/badfile"
	"chargewright/internal/schemas/schematest"
	"chargewright/system"
)

func read(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.FromSlash(name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func parse(file string, data []byte) error {
	_, err := Parse(file, data, byID)
	return err
}

// byID is system.ByID, each system read once: to read one takes longer than to
// read a figures file. No test changes what it gets.
func byID(id string) (*system.System, error) {
	once, _ := systems.LoadOrStore(id, sync.OnceValues(func() (*system.System, error) { return system.ByID(id) }))
	return once.(func() (*system.System, error))() //nolint:errcheck // nothing else is stored
}

var systems sync.Map

// TestBadFiles: every problem at once, each with its place and what to write
// instead.
func TestBadFiles(t *testing.T) { badfile.Run(t, "testdata/bad", parse) }

// TestSchemaAgrees: loader and schema refuse the same keys.
func TestSchemaAgrees(t *testing.T) {
	schematest.Agree(t, "figures", read(t, "testdata/good/full.yaml"), func(data []byte) error { return parse("full.yaml", data) }, false)
}

// TestEveryKindRuns: a file with every key is fitted, and a figure without an end
// is held.
func TestEveryKindRuns(t *testing.T) {
	x, err := Parse("full.yaml", read(t, "testdata/good/full.yaml"), system.ByID)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Run(x, Options{Seed: 1, Starts: 2})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Fitted) != 11 || len(x.Wires) != 1 {
		t.Errorf("%d figures, %d wires", len(r.Fitted), len(x.Wires))
	}
	if _, err := system.Parse("full.yaml", r.System); err != nil {
		t.Error(err)
	}
}

// TestExamples: the shipped figures agree, and every file has what it leaves open
// told.
func TestExamples(t *testing.T) {
	files, err := filepath.Glob("../examples/figures-*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no examples (%v)", err)
	}
	for _, file := range files {
		x, err := Parse(file, read(t, file), system.ByID)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Run(x, Options{Seed: 1, Starts: 4})
		if err != nil {
			t.Fatal(err)
		}
		open := 0
		for _, u := range r.Unknowns {
			if u.Verdict == Undetermined {
				open++
			}
		}
		if len(r.Conflicts) > 0 || open == 0 || r.Same != r.Starts {
			t.Errorf("%s: %v, %d open, %d of %d starts at one end", file, r.Conflicts, open, r.Same, r.Starts)
		}
	}
}

// FuzzParse: whatever stands in the file, it is read or refused with reasons; and
// what is read does not make the fit panic.
func FuzzParse(f *testing.F) {
	f.Add(read(f, "testdata/good/full.yaml"))
	f.Add(read(f, "testdata/bad/units.yaml"))
	f.Add(read(f, "../examples/figures-demo.yaml"))
	lib, err := system.ByID("isolated-earth-side")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		x, err := Parse("f.yaml", data, func(string) (*system.System, error) { return lib, nil })
		switch {
		case err != nil && x != nil || err == nil && x == nil:
			t.Fatal("read and refused")
		case err != nil && err.Error() == "":
			t.Fatal("refused without a reason")
		case err == nil && len(x.List) < 20:
			s, err := newSolver(x)
			if err != nil {
				return
			}
			if _, err := s.all(1, 1); err != nil {
				return
			}
		}
	})
}
