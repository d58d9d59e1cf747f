package machine

import (
	"bytes"
	"embed"
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
)

//go:embed tables
var tableFiles embed.FS

// TableFile returns the name of the file of a pattern's table under tables/.
func TableFile(p Pattern) string { return p.table().String() + ".tab" }

// Tables holds the table of every pattern.
type Tables [NumPatterns]*Table

// Shipped returns the tables that are part of the program, read once.
var Shipped = sync.OnceValues(func() (*Tables, error) {
	var t Tables
	for p := range NumPatterns {
		if q := p.table(); q != p {
			continue
		}
		data, err := tableFiles.ReadFile("tables/" + TableFile(p))
		if err != nil {
			return nil, fmt.Errorf("machine: no table for %v: run go generate ./machine: %w", p, err)
		}
		if t[p], err = ParseTable(data); err != nil {
			return nil, fmt.Errorf("machine: tables/%s: %w", TableFile(p), err)
		}
		if t[p].Pattern != p {
			return nil, fmt.Errorf("machine: tables/%s: holds %v", TableFile(p), t[p].Pattern)
		}
	}
	for p := range NumPatterns {
		t[p] = t[p.table()]
	}
	return &t, nil
})

// The first line of a table file.
const tableMagic = "chargewright bridge table 1"

// Encode returns the table as a file: a header of text lines, an empty line,
// then little-endian float32 in the order of Values. It has no date, so the
// same program makes the same bytes.
func (t *Table) Encode() []byte {
	var b bytes.Buffer
	g := &t.Grid
	fmt.Fprintln(&b, tableMagic)
	fmt.Fprintln(&b, "what output (DC side) current times wL/E of a three-phase star machine with six-diode bridge into a held voltage")
	fmt.Fprintln(&b, "pattern", t.Pattern)
	fmt.Fprintln(&b, "basis computed: machine/tablegen")
	fmt.Fprintln(&b, "source", t.Source)
	fmt.Fprintln(&b, "u", g.U[0], g.U[1], g.NU)
	fmt.Fprintln(&b, "ln-y", g.Y[0], g.Y[1], g.NY)
	fmt.Fprintln(&b, "knees", list(g.Knees))
	fmt.Fprintln(&b, "drops", list(g.Drops))
	fmt.Fprintln(&b, "reference-amps", g.RefAmps)
	fmt.Fprintln(&b, "solver", g.Steps, g.Periodic)
	names := make([]string, NumOutputs)
	for o := range NumOutputs {
		names[o] = o.String()
	}
	fmt.Fprintln(&b, "outputs", strings.Join(names, " "))
	fmt.Fprintln(&b)
	for _, v := range t.Values {
		_ = binary.Write(&b, binary.LittleEndian, v) // a buffer takes all
	}
	return b.Bytes()
}

func list(x []float64) string { return strings.Trim(fmt.Sprint(x), "[]") }

// ParseTable reads a table file and makes it ready. The error names the line.
func ParseTable(data []byte) (*Table, error) {
	head, body, ok := bytes.Cut(data, []byte("\n\n"))
	lines := strings.Split(string(head), "\n")
	if !ok || lines[0] != tableMagic {
		return nil, fmt.Errorf("no %q file", tableMagic)
	}
	t := new(Table)
	for n, line := range lines[1:] {
		if err := t.header(line); err != nil {
			return nil, fmt.Errorf("line %d: %w", n+2, err)
		}
	}
	var err error
	if t.Values, err = floats32(body); err != nil {
		return nil, err
	}
	return t, t.prepare()
}

// floats32 reads the values of a table's file.
func floats32(body []byte) ([]float32, error) {
	if len(body)%4 != 0 {
		return nil, fmt.Errorf("%d bytes of values are no float32s", len(body))
	}
	values := make([]float32, len(body)/4)
	for i := range values {
		v := math.Float32frombits(binary.LittleEndian.Uint32(body[4*i:]))
		if v != v || math.IsInf(float64(v), 0) {
			return nil, fmt.Errorf("value %d is no number", i)
		}
		values[i] = v
	}
	return values, nil
}

// header takes one line of the header.
func (t *Table) header(line string) error {
	key, rest, _ := strings.Cut(line, " ")
	g := &t.Grid
	var err error
	switch key {
	case "what", "basis":
	case "pattern":
		t.Pattern, err = ParsePattern(rest)
	case "source":
		t.Source = rest
	case "u":
		_, err = fmt.Sscan(rest, &g.U[0], &g.U[1], &g.NU)
	case "ln-y":
		_, err = fmt.Sscan(rest, &g.Y[0], &g.Y[1], &g.NY)
	case "knees":
		g.Knees, err = numbers(rest)
	case "drops":
		g.Drops, err = numbers(rest)
	case "reference-amps":
		_, err = fmt.Sscan(rest, &g.RefAmps)
	case "solver":
		_, err = fmt.Sscan(rest, &g.Steps, &g.Periodic)
	case "outputs":
		for o, name := range strings.Fields(rest) {
			if Output(o).String() != name {
				return fmt.Errorf("output %d is %s, not %s", o, Output(o), name)
			}
		}
	default:
		return fmt.Errorf("no header key %q", key)
	}
	return err
}

func numbers(s string) (x []float64, err error) {
	for _, f := range strings.Fields(s) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			return nil, err
		}
		x = append(x, v)
	}
	return x, nil
}

// NewTable makes a table of values computed at the points of its grid.
func NewTable(p Pattern, g Grid, source string, values []float32) (*Table, error) {
	t := &Table{Pattern: p, Grid: g, Source: source, Values: values}
	return t, t.prepare()
}
