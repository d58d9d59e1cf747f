package yamlread

import (
	"encoding/json"

	"go.yaml.in/yaml/v4"
)

// Plain turns a node into what a JSON document would hold, for a JSON Schema:
// words that YAML takes for times stay words, as the loaders read them.
func Plain(n *yaml.Node) any {
	switch n.Kind {
	case yaml.MappingNode:
		out := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			out[n.Content[i].Value] = Plain(n.Content[i+1])
		}
		return out
	case yaml.SequenceNode:
		out := make([]any, len(n.Content))
		for i, c := range n.Content {
			out[i] = Plain(c)
		}
		return out
	}
	switch n.Tag {
	case "!!int", "!!float":
		if json.Valid([]byte(n.Value)) {
			return json.Number(n.Value)
		}
	case "!!bool":
		return n.Value == "true"
	case "!!null":
		return nil
	}
	return n.Value
}
