package system_test

import (
	"regexp"
	"testing"

	"chargewright/system"
)

// TestLimitsSpeakToTheTechnician: a limit stands beside a reading, so its source is
// a book, a page or what it was worked out from, and not a file of the program.
func TestLimitsSpeakToTheTechnician(t *testing.T) {
	file := regexp.MustCompile(`\b(docs|system)/|\.(md|go|yaml)\b`)
	for _, id := range system.Library() {
		s, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range s.Limits {
			if file.MatchString(l.Source+" "+l.Condition) || l.Source == "" {
				t.Errorf("%s: limit %s has the source %q", id, l.ID, l.Source)
			}
		}
	}
}
