package near

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// mayMove says whether the Unreleased section of the changelog names the
// golden file.
func mayMove(t testing.TB, path string) bool {
	t.Helper()
	text, err := changelog()
	if err != nil {
		t.Errorf("reading the changelog: %v", err)
		return false
	}
	return strings.Contains(unreleased(text), filepath.Base(path))
}

// changelog returns the text of CHANGELOG.md of the module that the test
// stands in: tests run in their package's directory.
func changelog() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		_, err := os.Stat(filepath.Join(dir, "go.mod"))
		if err == nil || filepath.Dir(dir) == dir {
			text, err := os.ReadFile(filepath.Join(dir, "CHANGELOG.md"))
			return string(text), err
		}
		dir = filepath.Dir(dir)
	}
}

// unreleased returns the section below the heading Unreleased.
func unreleased(text string) string {
	_, rest, ok := strings.Cut(text, "## [Unreleased]")
	if !ok {
		return ""
	}
	section, _, _ := strings.Cut(rest, "\n## ")
	return section
}
