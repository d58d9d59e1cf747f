// Package schemas holds the JSON Schemas of the files that people write: system,
// procedure, practice and job. They serve editors and other programs; the
// loaders do not use them, because they say more and say where. Tests hold the
// loaders and the schemas against the same files.
//
// Schemas of what the program prints with --json stand beside these once it
// prints them. Open schema/ for the schemas themselves.
package schemas

import (
	"embed"
	"io/fs"
	"strings"
)

//go:embed schema/*.json
var files embed.FS

// All returns every schema by name: system, procedure, practice, job.
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
