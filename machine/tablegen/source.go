package main

import (
	"io/fs"

	"chargewright/machine/tablegen/source"
)

// sources are the files that decide a table's numbers, relative to the
// directory of package machine.
var sources = []string{"bridge.go", "diode.go", "grid.go", "pattern.go", "shoot.go", "steady.go", "tablegen/main.go"}

// sourceHash returns a hash of the sources' tokens.
func sourceHash(fsys fs.FS) (string, error) { return source.Hash(fsys, sources) }
