package system_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"chargewright/internal/badfile"
	"chargewright/system"
)

func TestBadSystems(t *testing.T) {
	badfile.Run(t, "testdata/bad", func(file string, data []byte) error {
		s, err := system.Parse(file, data)
		if err == nil && s == nil {
			t.Error("neither a system nor a problem")
		}
		return err
	})
}

func TestBadPractice(t *testing.T) {
	badfile.Run(t, "testdata/bad-practice", func(file string, data []byte) error {
		_, err := system.ParsePractice(file, data)
		return err
	})
}

// TestEveryLineMatters deletes each line of the smallest system in turn. What
// is left either still reads, or is refused with a place and a cure; nothing
// panics and nothing is refused without words.
func TestEveryLineMatters(t *testing.T) {
	data, err := os.ReadFile("testdata/good/small.yaml")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(data), "\n")
	refused := 0
	for i := range lines {
		rest := strings.Join(append(append([]string(nil), lines[:i]...), lines[i+1:]...), "\n")
		_, err := system.Parse("small.yaml", []byte(rest))
		if err == nil {
			continue
		}
		refused++
		for line := range strings.SplitSeq(err.Error(), "\n") {
			if !strings.HasPrefix(line, "small.yaml:") || !strings.Contains(line, "write instead: ") {
				t.Errorf("without line %d: %s", i+1, line)
			}
		}
	}
	// Optional in that file: blank end, comment, loads, w-spare's only use,
	// slope, one inert position's neighbours and the like; two thirds are needed.
	if refused < len(lines)*2/3 {
		t.Errorf("only %d of %d lines are needed", refused, len(lines))
	}
}

func FuzzParse(f *testing.F) {
	seed(f, "testdata/good/*.yaml", "testdata/bad/*.yaml", "library/isolated-earth-side.yaml")
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := system.Parse("f", data)
		if (s == nil) == (err == nil) {
			t.Error("a system and a problem, or neither")
		}
	})
}

func FuzzParsePractice(f *testing.F) {
	seed(f, "testdata/bad-practice/*.yaml", "testdata/practice/*.yaml", "library/practice.yaml")
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := system.ParsePractice("f", data)
		if (p == nil) == (err == nil) {
			t.Error("practice figures and a problem, or neither")
		}
	})
}

func seed(f *testing.F, patterns ...string) {
	for _, pattern := range patterns {
		names, err := filepath.Glob(pattern)
		if err != nil || len(names) == 0 {
			f.Fatalf("no seeds in %s (%v)", pattern, err)
		}
		for _, name := range names {
			data, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
}
