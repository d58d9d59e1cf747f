package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path"
	"reflect"
	"strings"

	"go.yaml.in/yaml/v4"

	"chargewright/job"
	"chargewright/problem"
)

// fix writes the ids of readings that have none into a job file, everything else
// as it stands. The changed file must read the same, or nothing is written.
func (k *checker) fix(f *checkedFile) {
	shelf, err := k.e.jobShelf(path.Dir(f.name), "", "")
	if err != nil {
		f.add(err)
		return
	}
	shelf.Catalogue, shelf.Practice, shelf.Own = k.catalogue, k.practice, k.own
	events, err := job.Parse(f.name, f.data, shelf)
	if err != nil {
		f.add(err)
		return
	}
	changed, err := f.withIDs(events)
	if err != nil || len(f.ids) == 0 {
		f.add(err)
		return
	}
	before, err := job.Fold(events, shelf)
	if err == nil {
		var after *job.Job
		if after, err = job.Read(f.name, changed, shelf); err == nil && !reflect.DeepEqual(before.Readings, after.Readings) {
			err = fmt.Errorf("the file would not read the same")
		}
	}
	if err != nil {
		f.ids = nil
		f.problems.Add(problem.Problem{File: f.name, What: "ids were not written: " + err.Error(), Instead: "id: in each reading, by hand"})
		return
	}
	if err := os.WriteFile(f.name, changed, 0o644); err != nil {
		f.ids = nil
		f.add(fmt.Errorf("%s cannot be written: %w", f.name, plain(err)))
	}
}

// withIDs returns the file's text with an id in every reading.
func (f *checkedFile) withIDs(events []job.Event) ([]byte, error) {
	var ids []string
	for _, e := range events {
		if e.Kind != job.Took {
			continue
		}
		var b job.ReadingBody
		if err := json.Unmarshal(e.Body, &b); err != nil {
			return nil, err
		}
		ids = append(ids, b.ID)
	}
	var doc yaml.Node
	if err := yaml.Load(f.data, &doc); err != nil || len(doc.Content) == 0 {
		return nil, fmt.Errorf("%s cannot be read as YAML", f.name)
	}
	x := &idWriter{lines: strings.Split(string(f.data), "\n"), file: f}
	log, wrapped := valueOf(doc.Content[0], "log"), true
	if log == nil {
		log, wrapped = valueOf(doc.Content[0], "readings"), false
	}
	if log == nil {
		return f.data, nil
	}
	// From the last to the first: what is inserted moves only what was done.
	for i := len(log.Content) - 1; i >= 0; i-- {
		if isReading(log.Content[i], wrapped) {
			x.entry(log.Content[i], wrapped, ids[len(ids)-1])
			ids = ids[:len(ids)-1]
		}
	}
	return []byte(strings.Join(x.lines, "\n")), nil
}

// isReading tells readings from the other kinds of log entries.
func isReading(entry *yaml.Node, wrapped bool) bool {
	if !wrapped {
		return true
	}
	switch entry.Content[0].Value {
	case "rig", "could-not", "correct", "repair":
		return false
	}
	return true
}

// idWriter inserts ids into the lines of a file.
type idWriter struct {
	lines []string
	file  *checkedFile
}

// entry gives one reading its id: in a reading written out, before its first
// key; a one-line reading is written out first.
func (x *idWriter) entry(entry *yaml.Node, wrapped bool, id string) {
	body, key := entry, entry.Content[0]
	if wrapped && key.Value == "reading" {
		body = entry.Content[1]
	} else if wrapped || len(entry.Content) == 2 {
		x.writeOut(entry, wrapped, id)
		return
	}
	if valueOf(body, "id") != nil {
		return
	}
	first := body.Content[0]
	if body.Style&yaml.FlowStyle != 0 {
		x.insert(first.Line, first.Column, "id: "+id+", ")
	} else {
		x.insert(first.Line, first.Column, "id: "+id+"\n"+strings.Repeat(" ", first.Column-1))
	}
	x.file.ids = append([]string{id}, x.file.ids...)
}

// writeOut turns - procedure: value into a reading with keys of its own. The
// value and what stands behind it on its line stay where they are.
func (x *idWriter) writeOut(entry *yaml.Node, wrapped bool, id string) {
	key, value := entry.Content[0], entry.Content[1]
	if entry.Style&yaml.FlowStyle != 0 || key.Style != 0 || value.Line != key.Line {
		x.file.left = append([]string{fmt.Sprintf("line %d: give the reading its id by hand: {id: %s, procedure: %s, value: …}", key.Line, id, key.Value)}, x.file.left...)
		return
	}
	indent, start := strings.Repeat(" ", key.Column-1), ""
	if wrapped {
		indent += "    "
		start = "reading:\n" + indent
	}
	name := "value"
	if value.Kind == yaml.SequenceNode {
		name = "values"
	}
	x.cut(key.Line, key.Column, len([]rune(key.Value)))
	x.insert(key.Line, key.Column, start+"id: "+id+"\n"+indent+"procedure: "+key.Value+"\n"+indent+name)
	x.file.ids = append([]string{id}, x.file.ids...)
}

// insert puts text into a line, both counted from 1. Lines may come out of it:
// they stay one element until the text is joined.
func (x *idWriter) insert(line, col int, text string) {
	r := []rune(x.lines[line-1])
	x.lines[line-1] = string(r[:col-1]) + text + string(r[col-1:])
}

func (x *idWriter) cut(line, col, n int) {
	r := []rune(x.lines[line-1])
	x.lines[line-1] = string(r[:col-1]) + string(r[col-1+n:])
}

// valueOf returns the value of a key of a mapping, nil when it has none.
func valueOf(n *yaml.Node, key string) *yaml.Node {
	for i := 0; n != nil && n.Kind == yaml.MappingNode && i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i+1]
		}
	}
	return nil
}
