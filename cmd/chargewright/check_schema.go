package main

import (
	"bytes"
	"errors"
	"strconv"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v4"
	"golang.org/x/text/language"
	"golang.org/x/text/message"

	"chargewright/internal/schemas"
	"chargewright/internal/yamlread"
	"chargewright/problem"
)

// schemaProblems holds a file against the JSON schema of its kind. The loaders
// say more; this is what an editor would mark.
func schemaProblems(f *checkedFile) problem.List {
	one := func(err error) problem.List { return problem.List{{File: f.name, What: "schema: " + err.Error()}} }
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(schemas.All()[f.kind]))
	if err != nil {
		return one(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(f.kind+".json", doc); err != nil {
		return one(err)
	}
	s, err := c.Compile(f.kind + ".json")
	if err != nil {
		return one(err)
	}
	var top yaml.Node
	if err := yaml.Load(f.data, &top); err != nil {
		return one(err)
	}
	if len(top.Content) == 0 {
		return nil // an empty file is of no kind
	}
	var v *jsonschema.ValidationError
	if !errors.As(s.Validate(yamlread.Plain(top.Content[0])), &v) {
		return nil
	}
	var out problem.List
	english := message.NewPrinter(language.English)
	for _, leaf := range leaves(v) {
		at := nodeAt(top.Content[0], leaf.InstanceLocation)
		out.Add(problem.Problem{File: f.name, Line: at.Line, Col: at.Column, What: "schema: " + leaf.ErrorKind.LocalizedString(english)})
	}
	return out
}

// leaves are the causes that have no further cause. Of alternatives only the one
// that got furthest into the file is told: the others were not meant.
func leaves(v *jsonschema.ValidationError) []*jsonschema.ValidationError {
	if len(v.Causes) == 0 {
		return []*jsonschema.ValidationError{v}
	}
	alternatives := false
	for _, word := range v.ErrorKind.KeywordPath() {
		alternatives = alternatives || word == "oneOf" || word == "anyOf"
	}
	var out []*jsonschema.ValidationError
	deepest := -1
	for _, c := range v.Causes {
		below := leaves(c)
		depth := 0
		for _, l := range below {
			depth = max(depth, len(l.InstanceLocation))
		}
		switch {
		case !alternatives || depth == deepest:
			out = append(out, below...)
		case depth > deepest:
			out, deepest = below, depth
		}
	}
	return out
}

// nodeAt finds a place in a YAML document by keys and indices.
func nodeAt(n *yaml.Node, location []string) *yaml.Node {
	for _, step := range location {
		var next *yaml.Node
		switch n.Kind {
		case yaml.MappingNode:
			for i := 0; i+1 < len(n.Content); i += 2 {
				if n.Content[i].Value == step {
					next = n.Content[i+1]
				}
			}
		case yaml.SequenceNode:
			if i, err := strconv.Atoi(step); err == nil && i < len(n.Content) {
				next = n.Content[i]
			}
		}
		if next == nil {
			return n
		}
		n = next
	}
	return n
}
