// Package schematest holds YAML and JSON files against the JSON Schemas. It serves tests
// only; the program does not link a validator.
package schematest

import (
	"bytes"
	"fmt"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v4"

	"chargewright/internal/schemas"
	"chargewright/internal/yamlread"
)

var compiled sync.Map // by name: what compile returned

// Compile returns the validator of a schema, made once.
func Compile(name string) (*jsonschema.Schema, error) {
	once, _ := compiled.LoadOrStore(name, sync.OnceValues(func() (*jsonschema.Schema, error) { return compile(name) }))
	return once.(func() (*jsonschema.Schema, error))() //nolint:errcheck // nothing else is stored
}

func compile(name string) (*jsonschema.Schema, error) {
	text, ok := schemas.All()[name]
	if !ok {
		return nil, fmt.Errorf("no schema is called %s", name)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	at := "file:///" + name + ".json" // whole: a bare name would hang on where the program stands just then
	if err := c.AddResource(at, doc); err != nil {
		return nil, err
	}
	return c.Compile(at)
}

// Validate holds a YAML file against a schema. Scalars that YAML would turn
// into times or truth values stay what the loaders read: text, true, false.
func Validate(s *jsonschema.Schema, data []byte) error {
	var doc yaml.Node
	if err := yaml.Load(data, &doc); err != nil {
		return err
	}
	if len(doc.Content) == 0 {
		return fmt.Errorf("the file is empty")
	}
	return s.Validate(yamlread.Plain(doc.Content[0]))
}

// ValidateLines holds a file with one JSON object a line against a schema of the
// list of its lines.
func ValidateLines(s *jsonschema.Schema, data []byte) error {
	var lines []any
	for line := range bytes.Lines(data) {
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(line))
		if err != nil {
			return fmt.Errorf("line %d: %w", len(lines)+1, err)
		}
		lines = append(lines, v)
	}
	return s.Validate(lines)
}
