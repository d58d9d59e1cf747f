package main

import (
	"crypto/sha256"
	"fmt"
	"go/scanner"
	"go/token"
	"io/fs"
)

// sources are the files that decide a table's numbers, relative to the
// directory of package machine.
var sources = []string{"bridge.go", "diode.go", "grid.go", "pattern.go", "shoot.go", "steady.go", "tablegen/main.go"}

// sourceHash returns a hash of the sources' tokens. Comments and layout do not
// count: they cannot move a number.
func sourceHash(fsys fs.FS) (string, error) {
	h := sha256.New()
	for _, name := range sources {
		data, err := fs.ReadFile(fsys, name)
		if err != nil {
			return "", fmt.Errorf("source of the tables: %w", err)
		}
		files := token.NewFileSet()
		var s scanner.Scanner
		s.Init(files.AddFile(name, -1, len(data)), data, nil, 0)
		for {
			_, tok, lit := s.Scan()
			if tok == token.EOF {
				break
			}
			fmt.Fprintf(h, "%v %q\n", tok, lit)
		}
	}
	return fmt.Sprintf("%x", h.Sum(nil)), nil
}
