package machine

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"sync"
)

// DPlusTable holds one pattern's D+ outputs, each as a C2 tensor spline over u
// and ln y.
type DPlusTable struct {
	Pattern NinePattern
	Grid    Grid
	Source  string // hash of the program that made it
	// Values are the outputs at the grid points, ordered output, u, y.
	Values []float32

	coef   []float64 // B-spline coefficients, same order, (NU+2) by (NY+2)
	logY   [2]float64
	du, ds float64
}

// NewDPlusTable makes a table of values computed at the points of its grid.
func NewDPlusTable(p NinePattern, g Grid, source string, values []float32) (*DPlusTable, error) {
	t := &DPlusTable{Pattern: p, Grid: g, Source: source, Values: values}
	return t, t.prepare()
}

// DPlusFile returns the name of the file of a pattern's D+ table under tables/.
func DPlusFile(p NinePattern) string { return "dplus-" + p.String() + ".tab" }

// DPlusTables holds the D+ table of every pattern.
type DPlusTables [NumNinePatterns]*DPlusTable

// ShippedDPlus returns the D+ tables that are part of the program, read once.
var ShippedDPlus = sync.OnceValues(func() (*DPlusTables, error) {
	var t DPlusTables
	for p := range NumNinePatterns {
		data, err := tableFiles.ReadFile("tables/" + DPlusFile(p))
		if err != nil {
			return nil, fmt.Errorf("machine: no D+ table for %v: run go generate ./machine: %w", p, err)
		}
		if t[p], err = ParseDPlusTable(data); err != nil {
			return nil, fmt.Errorf("machine: tables/%s: %w", DPlusFile(p), err)
		}
		if t[p].Pattern != p {
			return nil, fmt.Errorf("machine: tables/%s: holds %v", DPlusFile(p), t[p].Pattern)
		}
	}
	return &t, nil
})

// The first line of a D+ table's file.
const dplusMagic = "chargewright D+ table 1"

// Encode returns the table as a file, laid out as Table.Encode's are.
func (t *DPlusTable) Encode() []byte {
	var b bytes.Buffer
	g := &t.Grid
	fmt.Fprintln(&b, dplusMagic)
	fmt.Fprintln(&b, "what mean voltage of D+ in E, its fall in wL, the share of its current that the output lacks, of a three-phase star machine with field diodes")
	fmt.Fprintln(&b, "pattern", t.Pattern)
	fmt.Fprintln(&b, "basis computed: machine/tablegen/dplus")
	fmt.Fprintln(&b, "source", t.Source)
	fmt.Fprintln(&b, "u", g.U[0], g.U[1], g.NU)
	fmt.Fprintln(&b, "ln-y", g.Y[0], g.Y[1], g.NY)
	fmt.Fprintln(&b, "drops", list(g.Drops))
	fmt.Fprintln(&b, "solver", g.Steps, g.Periodic)
	fmt.Fprintln(&b, "outputs", strings.Join(dplusNames[:], " "))
	fmt.Fprintln(&b)
	for _, v := range t.Values {
		_ = binary.Write(&b, binary.LittleEndian, v) // a buffer takes all
	}
	return b.Bytes()
}

// ParseDPlusTable reads a table file and makes it ready. The error names the line.
func ParseDPlusTable(data []byte) (*DPlusTable, error) {
	head, body, ok := bytes.Cut(data, []byte("\n\n"))
	lines := strings.Split(string(head), "\n")
	if !ok || lines[0] != dplusMagic {
		return nil, fmt.Errorf("no %q file", dplusMagic)
	}
	t := new(DPlusTable)
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

// header takes one line of the header.
func (t *DPlusTable) header(line string) error {
	key, rest, _ := strings.Cut(line, " ")
	g := &t.Grid
	var err error
	switch key {
	case "what", "basis":
	case "pattern":
		t.Pattern, err = ParseNinePattern(rest)
	case "source":
		t.Source = rest
	case "u":
		_, err = fmt.Sscan(rest, &g.U[0], &g.U[1], &g.NU)
	case "ln-y":
		_, err = fmt.Sscan(rest, &g.Y[0], &g.Y[1], &g.NY)
	case "drops":
		g.Drops, err = numbers(rest)
	case "solver":
		_, err = fmt.Sscan(rest, &g.Steps, &g.Periodic)
	case "outputs":
		if want := strings.Join(dplusNames[:], " "); rest != want {
			return fmt.Errorf("outputs are %q, not %q", want, rest)
		}
	default:
		return fmt.Errorf("no header key %q", key)
	}
	return err
}

// prepare computes the spline coefficients from Values. Every output ends level
// in u: above the last u the output is cut off.
func (t *DPlusTable) prepare() error {
	g := &t.Grid
	if g.NU < 4 || g.NY < 4 || g.U[0] >= g.U[1] || g.Y[0] <= 0 || g.Y[0] >= g.Y[1] {
		return fmt.Errorf("grid %d by %d over u %v, y %v is no table", g.NU, g.NY, g.U, g.Y)
	}
	if n := int(NumDPlusOutputs) * g.NU * g.NY; len(t.Values) != n {
		return fmt.Errorf("%d values: the grid needs %d", len(t.Values), n)
	}
	t.logY = [2]float64{math.Log(g.Y[0]), math.Log(g.Y[1])}
	t.du = (g.U[1] - g.U[0]) / float64(g.NU-1)
	t.ds = (t.logY[1] - t.logY[0]) / float64(g.NY-1)
	size := (g.NU + 2) * (g.NY + 2)
	t.coef = make([]float64, int(NumDPlusOutputs)*size)
	for b := range int(NumDPlusOutputs) {
		tensor(t.Values[b*g.NU*g.NY:], t.coef[b*size:][:size], g.NU, g.NY, func(float64) float64 { return 0 })
	}
	return nil
}

// at returns an output at u and s = ln y inside the grid, with its derivatives.
func (t *DPlusTable) at(o DPlusOutput, u, s float64) (f, fu, fs, fus float64) {
	g := &t.Grid
	iu, bu, cu := stencil((u-g.U[0])/t.du, g.NU)
	is, bs, cs := stencil((s-t.logY[0])/t.ds, g.NY)
	width := g.NY + 2
	c := t.coef[int(o)*(g.NU+2)*width+iu*width+is:]
	for i := range 4 {
		r := c[i*width : i*width+4]
		x := bs[0]*r[0] + bs[1]*r[1] + bs[2]*r[2] + bs[3]*r[3]
		y := cs[0]*r[0] + cs[1]*r[1] + cs[2]*r[2] + cs[3]*r[3]
		f += bu[i] * x
		fu += cu[i] * x
		fs += bu[i] * y
		fus += cu[i] * y
	}
	return f, fu / t.du, fs / t.ds, fus / (t.du * t.ds)
}
