package schematest

import (
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"
)

// Agree changes a file that reads, one key at a time: each key is deleted, and
// each is misspelt. The schema must never refuse what the loader takes, and
// what the loader refuses as an unknown or missing key the schema must refuse
// too. lenient names schemas that leave the second to the loader.
func Agree(t *testing.T, schema string, data []byte, load func(data []byte) error, lenient bool) {
	t.Helper()
	s, err := Compile(schema)
	if err != nil {
		t.Fatal(err)
	}
	both := func(text []byte) (byLoader, bySchema error) { return load(text), Validate(s, text) }
	if byLoader, bySchema := both(data); byLoader != nil || bySchema != nil {
		t.Fatalf("the file must be good to begin with: %v; %v", byLoader, bySchema)
	}
	changed, refused := 0, 0
	for _, text := range mutations(t, data) {
		byLoader, bySchema := both(text)
		changed++
		if byLoader != nil {
			refused++
		}
		switch {
		case bySchema != nil && byLoader == nil:
			t.Errorf("only the schema refuses: %v\n%s", bySchema, text)
		case bySchema == nil && !lenient && byLoader != nil && ofKeys(byLoader.Error()):
			t.Errorf("only the loader refuses: %v", byLoader)
		}
	}
	if refused == 0 {
		t.Errorf("none of %d changed files was refused", changed)
	}
}

// ofKeys tells refusals that a schema can see. That a list lacks one of the
// parameters the models need is not one of them.
func ofKeys(problems string) bool {
	for line := range strings.SplitSeq(problems, "\n") {
		if strings.Contains(line, "unknown key") || strings.Contains(line, " is missing; ") && !strings.Contains(line, "params: ") {
			return true
		}
	}
	return false
}

// mutations returns the file with each key deleted and each key misspelt.
func mutations(t *testing.T, data []byte) [][]byte {
	t.Helper()
	var out [][]byte
	count := 0
	for i := 0; i == 0 || i < count; i++ {
		for _, misspell := range []bool{false, true} {
			var doc yaml.Node
			if err := yaml.Load(data, &doc); err != nil {
				t.Fatal(err)
			}
			count = 0
			mutate(&doc, i, misspell, &count)
			text, err := yaml.Dump(&doc)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, text)
		}
	}
	return out
}

// mutate changes key number n of the document and counts all keys.
func mutate(node *yaml.Node, n int, misspell bool, count *int) {
	if node.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(node.Content); i += 2 {
			hit := *count == n
			*count++
			if hit && misspell {
				node.Content[i].Value += "zz"
			} else if hit {
				node.Content = append(node.Content[:i:i], node.Content[i+2:]...)
				i -= 2
			}
		}
	}
	for _, c := range node.Content {
		mutate(c, n, misspell, count)
	}
}
