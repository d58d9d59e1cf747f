package main

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// text builds a page for people: wrapped at width, plain ASCII rules. Colour
// only repeats what a word has said already.
type text struct {
	strings.Builder
	colour bool
}

// Terminal codes (ECMA-48).
const (
	bold   = "\x1b[1m"
	red    = "\x1b[31m"
	green  = "\x1b[32m"
	yellow = "\x1b[33m"
	plainC = "\x1b[0m"
)

func (t *text) paint(code, s string) string {
	if !t.colour || s == "" {
		return s
	}
	return code + s + plainC
}

// head begins a section.
func (t *text) head(format string, args ...any) {
	if t.Len() > 0 {
		t.WriteByte('\n')
	}
	for _, line := range wrapText(fmt.Sprintf(format, args...), width) {
		t.WriteString(t.paint(bold, line) + "\n")
	}
}

// line writes text indented by n, what does not fit indented by n too.
func (t *text) line(n int, format string, args ...any) {
	t.hang(strings.Repeat(" ", n), fmt.Sprintf(format, args...))
}

// hang writes text behind a lead-in, the further lines below the text.
func (t *text) hang(lead, s string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(lead))
	for i, part := range wrapText(s, width-len(indent)) {
		if i > 0 {
			lead = indent
		}
		t.WriteString(strings.TrimRight(lead+part, " ") + "\n")
	}
}

// columns writes cells under each other: every column but the last padded to its
// width, at least one space between.
func (t *text) columns(indent int, widths []int, cells ...string) {
	line := strings.Repeat(" ", indent)
	for i, c := range cells {
		if i < len(widths) {
			c += strings.Repeat(" ", max(1, widths[i]-utf8.RuneCountInString(c)))
		}
		line += c
	}
	t.WriteString(strings.TrimRight(line, " ") + "\n")
}

// to writes the page.
func (t *text) to(w io.Writer) error {
	_, err := io.WriteString(w, t.String())
	return err
}

// percent prints a probability so that 0 and 100 mean what they say.
func percent(p float64) string {
	switch {
	case p > 0.9995:
		return "over 99.9 %"
	case p > 0.995:
		return fmt.Sprintf("%.1f %%", 100*p)
	case p >= 0.0095:
		return fmt.Sprintf("%.0f %%", 100*p)
	case p >= 0.001:
		return fmt.Sprintf("%.1f %%", 100*p)
	}
	return "under 0.1 %"
}

// minutes prints minutes as they are said.
func minutes(m float64) string {
	if m >= 90 {
		return fmt.Sprintf("%.1f h", m/60)
	}
	if m >= 20 {
		return fmt.Sprintf("%.0f min", m)
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", m), ".0") + " min"
}
