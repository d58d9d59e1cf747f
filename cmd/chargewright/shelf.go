package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/problem"
	"chargewright/question"
	"chargewright/system"
	"chargewright/unit"
)

// outputFormat is the format of everything that is printed with --json.
const outputFormat = 1

// openSystem finds a system by its id in the library, or reads a system file.
func openSystem(e *env, name string) (*system.System, error) {
	if !isFile(name) {
		if !slices.Contains(system.Library(), name) {
			return nil, unknown("system", name, system.Library())
		}
		return system.ByID(name)
	}
	data, err := e.read(name)
	if err != nil {
		return nil, err
	}
	return system.Parse(name, data)
}

// isFile tells a path from an id.
func isFile(name string) bool {
	return strings.ContainsAny(name, `/\`) || strings.HasSuffix(name, ".yaml") || strings.HasSuffix(name, ".yml")
}

// unknown is the problem of a name on the command line that nothing has.
func unknown(kind, name string, known []string) error {
	return problem.List{{What: "no " + kind + " is called " + name, Instead: yamlread.Suggest(name, known)}}
}

// shelf is a system with the procedures that can be done on it and the
// practice figures.
type shelf struct {
	sys       *system.System
	catalogue question.Catalogue
	practice  *system.Practice
}

func openShelf(e *env, name string) (*shelf, error) {
	s := &shelf{}
	var err error
	if s.sys, err = openSystem(e, name); err != nil {
		return nil, err
	}
	if s.catalogue, err = question.Library(); err != nil {
		return nil, err
	}
	s.practice, err = system.PracticeFor(s.sys.Arrangement)
	return s, err
}

// procedures lists what can be done on the system, in order.
func (s *shelf) procedures() []*question.Procedure {
	var out []*question.Procedure
	for _, id := range s.catalogue.IDs() {
		if ok, _ := s.catalogue[id].Applies(s.sys); ok {
			out = append(out, s.catalogue[id])
		}
	}
	return out
}

// quantity is a number as it leaves the program, with the UCUM code of its unit.
type quantity struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

func amount(dim unit.Dim, si float64) quantity {
	return quantity{unit.ToUCUM(dim, si), unit.UCUM(dim)}
}

// maybe is amount of a figure that need not be given.
func maybe(dim unit.Dim, si *float64) *float64 {
	if si == nil {
		return nil
	}
	v := unit.ToUCUM(dim, *si)
	return &v
}

// origin says where a figure comes from.
type origin struct {
	Source string       `json:"source,omitempty"`
	Basis  system.Basis `json:"basis,omitempty"`
}

// words is an origin for people.
func (o origin) words() string {
	switch {
	case o.Source == "":
		return string(o.Basis)
	case o.Basis == "":
		return o.Source
	}
	return o.Source + " (" + string(o.Basis) + ")"
}

// printJSON writes a value as indented JSON.
func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(v); err != nil {
		return fmt.Errorf("the answer cannot be written as JSON: %w", err)
	}
	return nil
}

// problemf is one problem of the command line.
func problemf(instead, format string, args ...any) error {
	return problem.List{{What: fmt.Sprintf(format, args...), Instead: instead}}
}

// together joins problems into one list; nil when there are none.
func together(errs []error) error {
	var all problem.List
	for _, err := range errs {
		var list problem.List
		if errors.As(err, &list) {
			all = append(all, list...)
		} else if err != nil {
			all.Add(problem.Problem{What: err.Error()})
		}
	}
	return all.Err()
}
