// Package problem is how every reader of a file or form says what is wrong:
// what, where, and what to write instead, all of it at once.
//
// It judges nothing itself and knows no file format. This is the only file.
package problem

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one thing wrong at one place. Line and Col count from 1; 0 means
// not known.
type Problem struct {
	File    string `json:"file,omitempty"`
	Line    int    `json:"line,omitempty"`
	Col     int    `json:"col,omitempty"`
	What    string `json:"what"`
	Instead string `json:"instead,omitempty"` // what to write instead
}

// String renders file:line:col: what; write instead: … and leaves out the parts
// that are not known.
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		if p.File == "" {
			b.WriteString("line ")
		} else {
			b.WriteByte(':')
		}
		fmt.Fprintf(&b, "%d", p.Line)
		if p.Col > 0 {
			fmt.Fprintf(&b, ":%d", p.Col)
		}
	}
	if b.Len() > 0 {
		b.WriteString(": ")
	}
	b.WriteString(p.What)
	if p.Instead != "" {
		b.WriteString("; write instead: " + p.Instead)
	}
	return b.String()
}

// Error makes a single Problem usable as an error.
func (p Problem) Error() string { return p.String() }

// List is every problem found. As an error it prints one a line. Return
// list.Err(), never the list itself: an empty List in an error is not nil.
type List []Problem

// Error renders one problem a line.
func (l List) Error() string {
	if len(l) == 0 {
		return "no problem"
	}
	lines := make([]string, len(l))
	for i, p := range l {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// Err returns the list as an error, or nil when it is empty or nil.
func (l List) Err() error {
	if len(l) == 0 {
		return nil
	}
	return l
}

// Unwrap lets errors.As find a single Problem in the list.
func (l List) Unwrap() []error {
	out := make([]error, len(l))
	for i, p := range l {
		out[i] = p
	}
	return out
}

// Add notes one more problem.
func (l *List) Add(p Problem) { *l = append(*l, p) }

// Sort orders by file, line, column, keeping the order of finding within one
// place.
func (l List) Sort() {
	slices.SortStableFunc(l, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Col, b.Col))
	})
}
