package main

import (
	"encoding/json"
	"maps"
	"slices"

	"chargewright/internal/schemas"
)

type schemaCmd struct {
	Name string `arg:"" optional:"" help:"A kind of file (system, procedure, practice, job, figures, machine, export) or a command, for what it prints with --json. Without it, all are listed." placeholder:"NAME"`
}

// Run prints a JSON schema, or lists them.
func (c *schemaCmd) Run(e *env) error {
	all := schemas.All()
	names := slices.Sorted(maps.Keys(all))
	if c.Name == "" {
		t := &text{colour: e.colour}
		for _, n := range names {
			var head struct{ Title, Description string }
			if err := json.Unmarshal(all[n], &head); err != nil {
				return err
			}
			t.entry(n, head.Title)
		}
		return t.to(e.stdout)
	}
	text, ok := all[c.Name]
	if !ok {
		text, ok = all["output-"+c.Name]
	}
	if !ok {
		known := make([]string, len(names))
		for i, n := range names {
			known[i] = trimOutput(n) // a command's name is enough, where no kind of file has it
			if _, is := all[known[i]]; is {
				known[i] = n
			}
		}
		return unknown("schema", c.Name, known)
	}
	_, err := e.stdout.Write(text)
	return err
}

// trimOutput is the name of the command whose output a schema describes.
func trimOutput(name string) string {
	if len(name) > 7 && name[:7] == "output-" {
		return name[7:]
	}
	return name
}
