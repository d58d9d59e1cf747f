package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// folder is where a run leaves its report: as it is printed, and the same in JSON.
type folder struct {
	md   *os.File
	text bytes.Buffer
}

// newFolder begins a report in a folder, named by the time.
func newFolder(path string, now time.Time) (*folder, error) {
	if err := os.MkdirAll(path, 0o755); err != nil {
		return nil, err
	}
	md, err := os.Create(filepath.Join(path, now.Format("2006-01-02-1504")+".md"))
	if err != nil {
		return nil, err
	}
	return &folder{md: md}, nil
}

// Write implements io.Writer.
func (f *folder) Write(b []byte) (int, error) {
	f.text.Write(b)
	return f.md.Write(b)
}

// close writes the JSON beside the Markdown.
func (f *folder) close() error {
	if f == nil {
		return nil
	}
	data, err := json.MarshalIndent(sectionsOf(f.text.String()), "", "  ")
	if err != nil {
		return errors.Join(err, f.md.Close())
	}
	name := strings.TrimSuffix(f.md.Name(), ".md") + ".json"
	return errors.Join(f.md.Close(), os.WriteFile(name, append(data, '\n'), 0o644))
}

// section is a part of the report: its words and its tables.
type section struct {
	Name   string   `json:"name"`
	Words  []string `json:"words"`
	Tables []table  `json:"tables"`
}

// table is a table of the report; every row has a cell for every column.
type table struct {
	Columns []string   `json:"columns"`
	Rows    [][]string `json:"rows"`
}

// sectionsOf reads a report back. The report is what people read; its JSON is
// made from it so that the two cannot differ.
func sectionsOf(md string) []section {
	all := []section{{Name: "machine"}}
	inTable := false
	for line := range strings.Lines(md) {
		line = strings.TrimSpace(line)
		now := &all[len(all)-1]
		name, heading := strings.CutPrefix(line, "## ")
		cells, row := strings.CutPrefix(line, "|")
		switch {
		case heading:
			all = append(all, section{Name: name})
		case row && !inTable:
			now.Tables = append(now.Tables, table{Columns: split(cells)})
		case row && strings.Trim(cells, "-|: ") == "":
		case row:
			t := &now.Tables[len(now.Tables)-1]
			t.Rows = append(t.Rows, split(cells))
		case line != "":
			now.Words = append(now.Words, line)
		}
		inTable = row
	}
	return all
}

// split are the cells of a row.
func split(row string) []string {
	cells := strings.Split(strings.TrimSuffix(row, "|"), "|")
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
	}
	return cells
}
