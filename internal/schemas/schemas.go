// Package schemas holds the JSON Schemas of the files that people write (system,
// procedure, practice, job, figures), of what export writes, and of what the
// program prints with --json (output-…). They serve editors and other programs; the loaders do not use
// them, because they say more and say where. Tests hold the loaders, what is
// printed and the schemas against each other.
//
// Open schema/ for the schemas themselves.
package schemas

import (
	"embed"
	"io/fs"
	"strings"
)

//go:embed schema/*.json
var files embed.FS

// All returns every schema by name: system, procedure, practice, job, figures, export,
// and output- with the name of a command.
func All() map[string][]byte {
	out := map[string][]byte{}
	names, _ := fs.Glob(files, "schema/*.json") // the pattern is well formed
	for _, name := range names {
		data, err := files.ReadFile(name)
		if err != nil {
			panic(err) // the file was listed: only a broken build gets here
		}
		out[strings.TrimSuffix(strings.TrimPrefix(name, "schema/"), ".json")] = data
	}
	return out
}
