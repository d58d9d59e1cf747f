package main

import (
	"io/fs"

	"chargewright/machine/tablegen/source"
)

// sources are the files that decide a table's numbers, relative to the
// directory of package machine.
var sources = []string{
	"bridge.go", "build.go", "changes.go", "chord.go", "diode.go", "grid.go", "mesh.go", "nine_grid.go", "nine_pattern.go",
	"periodic.go", "run.go", "run_stage.go", "tablegen/dplus/main.go",
}

// sourceHash returns a hash of the sources' tokens.
func sourceHash(fsys fs.FS) (string, error) { return source.Hash(fsys, sources) }
