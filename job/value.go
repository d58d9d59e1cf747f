package job

import (
	"fmt"
	"regexp"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/question"
	"chargewright/unit"
)

// readValues reads the values of a reading: one, or a list in the procedure's
// order. Optional ones at the end may be left out and read as not taken.
func (r *fileReader) readValues(n yamlread.Node, wants []want) []ValueBody {
	items := n.Items()
	if n.IsList() && len(items) > len(wants) {
		if !n.Commas() {
			n.Add(fmt.Sprintf("%d values for %s", len(items), named(wants)), example(wants))
		}
		return nil
	}
	var out []ValueBody
	for i, w := range wants {
		if i >= len(items) {
			if !w.optional && (n.IsList() || i > 0) {
				n.Add("the value of "+w.name+" is missing", "all of them, such as "+example(wants))
				return nil
			}
			if w.optional {
				out = append(out, ValueBody{How: string(question.NotTaken)})
			}
			continue
		}
		v, ok := readValue(items[i], w)
		if !ok {
			continue // noted
		}
		out = append(out, v)
	}
	return out
}

func named(wants []want) string {
	var names []string
	for _, w := range wants {
		names = append(names, w.name)
	}
	return strings.Join(names, " and ")
}

// example shows what the values look like.
func example(wants []want) string {
	var parts []string
	for _, w := range wants {
		if w.classes != nil {
			parts = append(parts, w.classes[0])
		} else {
			parts = append(parts, w.dim.Example())
		}
	}
	if len(parts) == 1 {
		return parts[0]
	}
	return "[" + strings.Join(parts, ", ") + "]"
}

var (
	overForm    = regexp.MustCompile(`^(?:over|above|>)\s*(.+)$`)
	underForm   = regexp.MustCompile(`^(?:under|below|<)\s*(.+)$`)
	betweenForm = regexp.MustCompile(`^(?:between\s+)?(.+?)\s+(?:and|to)\s+(.+)$`)
	missingForm = regexp.MustCompile(`^not[- ]taken(?:\s*:\s*(.*))?$`)
)

// readValue reads one value: a class of a look, or a number with its unit as
// measured, over 10 A, under 0.1 V, between 0.5 V and 0.7 V, not taken: why.
func readValue(n yamlread.Node, w want) (ValueBody, bool) {
	s := n.Text()
	if s == "" {
		return ValueBody{}, false
	}
	if m := missingForm.FindStringSubmatch(s); m != nil {
		return ValueBody{How: string(question.NotTaken), Why: m[1]}, true
	}
	if w.classes != nil {
		class := n.OneOf(w.classes...)
		return ValueBody{How: string(question.Class), Class: class}, class != ""
	}
	v, err := parseValue(s, w.dim)
	if err != nil {
		n.Refuse(err)
		return ValueBody{}, false
	}
	return v, true
}

func parseValue(s string, dim unit.Dim) (ValueBody, error) {
	if m := overForm.FindStringSubmatch(s); m != nil {
		x, err := unit.Parse(dim, m[1])
		return ValueBody{How: string(question.Over), Lo: x}, err
	}
	if m := underForm.FindStringSubmatch(s); m != nil {
		x, err := unit.Parse(dim, m[1])
		return ValueBody{How: string(question.Under), Hi: x}, err
	}
	if m := betweenForm.FindStringSubmatch(s); m != nil {
		hi, err := unit.Parse(dim, m[2])
		if err != nil {
			return ValueBody{}, err
		}
		low := m[1]
		lo, err := unit.Parse(dim, low)
		if err != nil { // "0.5 to 0.7 V": the unit stands once
			whole := low + " " + unitOf(m[2])
			if again, err2 := unit.Parse(dim, whole); err2 == nil {
				low, lo, err = whole, again, nil
			}
		}
		switch {
		case err == nil && lo == hi:
			err = &unit.Refusal{Given: s, What: "has two ends that are alike", Instead: m[2] + ", or the two that it lies between"}
		case err == nil && lo > hi:
			err = &unit.Refusal{Given: s, What: "runs from the higher to the lower value", Instead: "between " + m[2] + " and " + low}
		}
		return ValueBody{How: string(question.Between), Lo: lo, Hi: hi}, err
	}
	x, err := unit.Parse(dim, s)
	return ValueBody{How: string(question.Measured), X: x}, err
}

// unitOf is what follows the number.
func unitOf(s string) string {
	return strings.TrimSpace(strings.TrimLeft(s, "+-−0123456789.,eE "))
}
