// Package source fingerprints the files that decide a generated table's numbers,
// so that a test can say when a table is stale. It reads nothing itself: it is
// handed a file system.
package source

import (
	"crypto/sha256"
	"fmt"
	"go/scanner"
	"go/token"
	"io/fs"
)

// Hash returns a hash of the named files' tokens. Comments and layout do not
// count: they cannot move a number.
func Hash(fsys fs.FS, names []string) (string, error) {
	h := sha256.New()
	for _, name := range names {
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
