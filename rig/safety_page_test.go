package rig

import (
	"os"
	"strings"
	"testing"
)

// TestSafetyPageAgrees: docs/models/safety.md tables every rule once, says
// "guard" and "never" exactly where the file has them, and names no caution that
// the file lacks.
func TestSafetyPageAgrees(t *testing.T) { each(t, safetyPageAgrees) }

func safetyPageAgrees(t *testing.T, v vehicle) {
	guard, never := map[string]bool{}, map[string]bool{"P1": false}
	for _, p := range v.Places {
		for _, m := range p.Moves {
			for _, n := range m.Needs {
				guard[n.Rule] = true
			}
		}
	}
	for _, n := range v.Never {
		never[n.Rule] = true
	}
	page, err := os.ReadFile("../docs/models/safety.md")
	if err != nil {
		t.Fatal(err)
	}
	seen, notHere, own := map[string]bool{}, v.notHere(), map[string]string{}
	for line := range strings.Lines(string(page)) { // rows of one arrangement alone: | R39 (lamp-excited) |
		if cell := strings.Split(line, "|"); len(cell) >= 6 && strings.HasSuffix(strings.TrimSpace(cell[1]), " ("+v.id+")") {
			own[strings.TrimSuffix(strings.TrimSpace(cell[1]), " ("+v.id+")")] = cell[4]
		}
	}
	for line := range strings.Lines(string(page)) {
		cell := strings.Split(line, "|")
		if len(cell) < 6 || !strings.HasPrefix(strings.TrimSpace(cell[1]), "R") || strings.Contains(cell[1], "(") {
			continue
		}
		rule, held := strings.TrimSpace(cell[1]), cell[4]
		if seen[rule] {
			t.Errorf("%s is tabled twice", rule)
		}
		seen[rule] = true
		if other, ok := own[rule]; ok {
			held = other
		}
		if !notHere[rule] && (strings.Contains(held, "**guard**") != guard[rule] || strings.Contains(held, "**never**") != never[rule]) || notHere[rule] && (guard[rule] || never[rule]) {
			t.Errorf("%s: the page says %q; in the file guard %v, never %v", rule, held, guard[rule], never[rule])
		}
		for _, word := range strings.FieldsFunc(held, func(r rune) bool { return strings.ContainsRune(" ,;:.()", r) }) {
			if len(word) == 3 && word[0] == 'c' && word[1] >= '0' && word[1] <= '9' && !v.cautions[word] {
				t.Errorf("%s: caution %s is not in the file", rule, word)
			}
		}
	}
	if len(seen) != 44 { // R1-R43 and R26b
		t.Errorf("%d rules are tabled, want R1-R43 and R26b", len(seen))
	}
	for rule := range guard {
		if !seen[rule] {
			t.Errorf("%s guards in the file but is not on the page", rule)
		}
	}
}

// notHere are the rules that a vehicle has no guard for because it lacks what they
// are about, as the page's last section says; it must then have none at all.
func (v vehicle) notHere() map[string]bool {
	out := map[string]bool{}
	if !v.has("field-jumper") {
		for _, rule := range []string{"R14", "R15", "R16", "R17"} {
			out[rule] = true
		}
	}
	if !v.has("bypass/field-feed") {
		out["R24"] = true
	}
	return out
}
