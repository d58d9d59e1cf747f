package system

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"testing"
)

// TestPracticeIsFrozen: rates, minutes, prices and orders were fixed before the
// planner was tuned; the figures in docs/results.md are for these bytes. A
// change of the file needs a decision note and the figures before and after
// (docs/decisions/005).
func TestPracticeIsFrozen(t *testing.T) {
	data, err := fs.ReadFile(Files(), practiceFile)
	if err != nil {
		t.Fatal(err)
	}
	results, err := os.ReadFile("../docs/results.md")
	if err != nil {
		t.Fatal(err)
	}
	if hash := fmt.Sprintf("%x", sha256.Sum256(data)); !strings.Contains(string(results), hash) {
		t.Errorf("practice.yaml is now %s and docs/results.md names another: measure anew, write a decision note, then put the hash there", hash)
	}
}
