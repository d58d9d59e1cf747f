package main

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// width is how many columns a page of text has.
const width = 80

// wrapText breaks text at spaces; a longer word stays whole. Nothing gives no
// line.
func wrapText(text string, columns int) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(text) {
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > columns:
			out = append(out, line)
			line = word
		default:
			line += " " + word
		}
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}

// pad fills up with spaces to n letters, of which there is at least one.
func pad(s string, n int) string {
	return s + strings.Repeat(" ", max(1, n-utf8.RuneCountInString(s)))
}

// column is where the text of an entry begins.
const column = 22

// entry is a key with lines beside it, each wrapped; a long key has a line of
// its own. Empty lines are left out.
func (t *text) entry(key string, lines ...string) {
	lead := pad("  "+key, column)
	if utf8.RuneCountInString(lead) > column {
		t.line(2, "%s", key)
		lead = pad("", column)
	}
	for _, line := range lines {
		if line != "" {
			t.hang(lead, line)
			lead = pad("", column)
		}
	}
}

// plural is a count with its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
