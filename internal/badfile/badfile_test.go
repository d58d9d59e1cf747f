package badfile

import (
	"testing"

	"chargewright/problem"
)

// The helper itself must be seen to complain.
func TestCompare(t *testing.T) {
	file := []byte("a: 1\n# want 1:1 unknown key\n")
	found := problem.List{{File: "f", Line: 1, Col: 1, What: "unknown key \"a\""}}
	if out := Compare(file, found); out != nil {
		t.Errorf("agreeing file: %v", out)
	}
	if out := Compare(file, nil); len(out) != 1 {
		t.Errorf("problem not found: %v", out)
	}
	if out := Compare(file, append(found, found[0])); len(out) != 1 {
		t.Errorf("the same problem twice: %v", out)
	}
	if out := Compare([]byte("a: 1\n"), found); len(out) != 2 {
		t.Errorf("file without wants: %v", out)
	}
	found[0].Col = 2
	if out := Compare(file, found); len(out) != 2 {
		t.Errorf("wrong column: %v", out)
	}
}
