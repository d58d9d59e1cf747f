package machine

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"sync"
)

// PartTable holds what a growing pattern differs by from the mean of its ends,
// each output as a C2 tensor spline over u, ln y and how far it has grown.
type PartTable struct {
	Pattern Pattern
	Grid    Grid
	NS      int
	Source  string // hash of the program that made it
	// Values are the outputs at the grid points between the ends, ordered output,
	// step, u, y.
	Values []float32

	coef       []float64 // B-spline coefficients, output, step, u, y, two more of each
	logY       [2]float64
	du, ds, dg float64
}

// NewPartTable makes a table of values computed at the points of PartGrid.
func NewPartTable(p Pattern, source string, values []float32) (*PartTable, error) {
	t := &PartTable{Pattern: p, Grid: PartGrid, NS: PartSteps(p), Source: source, Values: values}
	return t, t.prepare()
}

// PartPatterns are the patterns that grow.
var PartPatterns = []Pattern{PhaseJoint, DiodeLeak}

// PartTables holds the table of every pattern that grows.
type PartTables [2]*PartTable

// PartFile returns the name of the file of a growing pattern's table.
func PartFile(p Pattern) string { return "part-" + p.String() + ".tab" }

// ShippedParts returns the tables of growing patterns, read once.
var ShippedParts = sync.OnceValues(func() (*PartTables, error) {
	var t PartTables
	for _, p := range PartPatterns {
		data, err := tableFiles.ReadFile("tables/" + PartFile(p))
		if err != nil {
			return nil, fmt.Errorf("machine: no table for %v: run go generate ./machine: %w", p, err)
		}
		x, err := ParsePartTable(data)
		if err != nil {
			return nil, fmt.Errorf("machine: tables/%s: %w", PartFile(p), err)
		}
		if x.Pattern != p {
			return nil, fmt.Errorf("machine: tables/%s: holds %v", PartFile(p), x.Pattern)
		}
		t[p-NumPatterns] = x
	}
	return &t, nil
})

// The first line of the file.
const partMagic = "chargewright part table 1"

// Encode returns the table as a file, laid out as Table.Encode's are.
func (t *PartTable) Encode() []byte {
	var b bytes.Buffer
	g := &t.Grid
	fmt.Fprintln(&b, partMagic)
	fmt.Fprintln(&b, "what output (DC side) current times wL/E of a bridge with a fault that grows, less the mean of sound and fully grown by how far it has")
	fmt.Fprintln(&b, "pattern", t.Pattern)
	fmt.Fprintln(&b, "basis computed: machine/tablegen/part")
	fmt.Fprintln(&b, "source", t.Source)
	fmt.Fprintln(&b, "u", g.U[0], g.U[1], g.NU)
	fmt.Fprintln(&b, "ln-y", g.Y[0], g.Y[1], g.NY)
	fmt.Fprintln(&b, "grown", t.NS)
	fmt.Fprintln(&b, "knees", list(g.Knees))
	fmt.Fprintln(&b, "drops", list(g.Drops))
	fmt.Fprintln(&b, "reference-amps", g.RefAmps)
	fmt.Fprintln(&b, "solver", g.Steps, g.Periodic)
	fmt.Fprintln(&b, "outputs", strings.Join(outputNames[:], " "))
	fmt.Fprintln(&b)
	for _, v := range t.Values {
		_ = binary.Write(&b, binary.LittleEndian, v) // a buffer takes all
	}
	return b.Bytes()
}

// ParsePartTable reads a table file and makes it ready. The error names the line.
func ParsePartTable(data []byte) (*PartTable, error) {
	head, body, ok := bytes.Cut(data, []byte("\n\n"))
	lines := strings.Split(string(head), "\n")
	if !ok || lines[0] != partMagic {
		return nil, fmt.Errorf("no %q file", partMagic)
	}
	t := new(PartTable)
	var rest Table // reads the keys that all tables have
	for n, line := range lines[1:] {
		var err error
		if steps, ok := strings.CutPrefix(line, "grown "); ok {
			_, err = fmt.Sscan(steps, &t.NS)
		} else {
			err = rest.header(line)
		}
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", n+2, err)
		}
	}
	t.Pattern, t.Grid, t.Source = rest.Pattern, rest.Grid, rest.Source
	var err error
	if t.Values, err = floats32(body); err != nil {
		return nil, err
	}
	return t, t.prepare()
}

// prepare computes the spline coefficients from Values, zero at both ends.
func (t *PartTable) prepare() error {
	g := &t.Grid
	if g.NU < 4 || g.NY < 4 || t.NS < 4 || g.U[0] >= g.U[1] || g.Y[0] <= 0 || g.Y[0] >= g.Y[1] {
		return fmt.Errorf("grid %d by %d by %d over u %v, y %v is no table", g.NU, g.NY, t.NS, g.U, g.Y)
	}
	between := t.NS - 2
	if n := int(NumOutputs) * between * g.NU * g.NY; len(t.Values) != n {
		return fmt.Errorf("%d values: the grid needs %d", len(t.Values), n)
	}
	t.logY = [2]float64{math.Log(g.Y[0]), math.Log(g.Y[1])}
	t.du = (g.U[1] - g.U[0]) / float64(g.NU-1)
	t.ds = (t.logY[1] - t.logY[0]) / float64(g.NY-1)
	t.dg = 1 / float64(t.NS-1)
	size := (g.NU + 2) * (g.NY + 2)
	t.coef = make([]float64, int(NumOutputs)*(t.NS+2)*size)
	planes := make([]float64, t.NS*size) // the ends stay zero
	column := make([]float64, t.NS)
	for o := range int(NumOutputs) {
		for k := range between {
			tensor(t.Values[(o*between+k)*g.NU*g.NY:], planes[(k+1)*size:][:size], g.NU, g.NY, func(last float64) float64 {
				return -tailPower * last / g.U[1] * t.du
			})
		}
		for i := range size {
			for k := range t.NS {
				column[k] = planes[k*size+i]
			}
			for k, c := range splineCoefficients(column, nil) {
				t.coef[(o*(t.NS+2)+k)*size+i] = c
			}
		}
	}
	return nil
}

// bump is a table's figure with its derivatives by u, ln y and the growth, and
// those by u of the last two.
type bump struct{ f, u, s, g, us, ug float64 }

// at returns an output inside the grid.
func (t *PartTable) at(o Output, u, s, grown float64) (b bump) {
	g := &t.Grid
	iu, bu, cu := stencil((u-g.U[0])/t.du, g.NU)
	is, bs, cs := stencil((s-t.logY[0])/t.ds, g.NY)
	ig, bg, cg := stencil(grown/t.dg, t.NS)
	width := g.NY + 2
	size := (g.NU + 2) * width
	for k := range 4 {
		c := t.coef[(int(o)*(t.NS+2)+ig+k)*size+iu*width+is:]
		var f, fu, fs, fus float64
		for i := range 4 {
			r := c[i*width : i*width+4]
			x := bs[0]*r[0] + bs[1]*r[1] + bs[2]*r[2] + bs[3]*r[3]
			y := cs[0]*r[0] + cs[1]*r[1] + cs[2]*r[2] + cs[3]*r[3]
			f += bu[i] * x
			fu += cu[i] * x
			fs += bu[i] * y
			fus += cu[i] * y
		}
		b.f += bg[k] * f
		b.u += bg[k] * fu
		b.s += bg[k] * fs
		b.us += bg[k] * fus
		b.g += cg[k] * f
		b.ug += cg[k] * fu
	}
	b.u, b.us, b.ug = b.u/t.du, b.us/(t.du*t.ds), b.ug/(t.du*t.dg)
	b.s, b.g = b.s/t.ds, b.g/t.dg
	return b
}

// between is an output of a growing pattern [A], with its derivatives: the mean of
// the ends by how far it has grown, and what the table adds.
func (m *Alternator) between(which Output, p Pattern, volts, emf, reactance, ohms, fault float64) (c current, byFault float64) {
	fault = max(fault, 0)
	grown, gFault, gReactance := p.grown(fault, reactance)
	sound := m.current(which, Healthy, volts, emf, reactance, ohms)
	end := m.current(which, p.end(), volts, emf, reactance, ohms)
	more, byGrown := m.parts[p-NumPatterns].look(which, volts+2*m.drop, emf, reactance, ohms+m.diode.Ohms, grown)
	mix := func(a, b, x float64) float64 { return (1-grown)*a + grown*b + x }
	byGrown += end.amps - sound.amps
	return current{
		amps:        mix(sound.amps, end.amps, more.amps),
		byVolts:     mix(sound.byVolts, end.byVolts, more.byVolts),
		byEMF:       mix(sound.byEMF, end.byEMF, more.byEMF),
		byReactance: mix(sound.byReactance, end.byReactance, more.byReactance) + byGrown*gReactance,
		byOhms:      mix(sound.byOhms, end.byOhms, more.byOhms),
	}, byGrown * gFault
}

// look evaluates amps = (E/X) c(u = V/E, ln y, grown), beyond the table as
// Table.look does.
func (t *PartTable) look(o Output, volts, emf, reactance, ohms, grown float64) (c current, byGrown float64) {
	g := &t.Grid
	ohms = max(ohms, minOhms)
	s := math.Log(ohms / reactance)
	se, ds := bend(s, t.logY[0]+yMargin, t.logY[1]-yMargin, yMargin)
	// q = E c, by volts, E, ln y and growth.
	var q, qV, qE, qS, qG float64
	switch {
	case volts < g.U[0]*emf:
		b := t.at(o, g.U[0], se, grown)
		over := volts - g.U[0]*emf
		q, qV, qE = emf*b.f+over*b.u, b.u, b.f-g.U[0]*b.u
		qS, qG = emf*b.s+over*b.us, emf*b.g+over*b.ug
	case volts > g.U[1]*emf:
		b := t.at(o, g.U[1], se, grown)
		r := math.Pow(g.U[1]*emf/volts, tailPower)
		q, qE = emf*r*b.f, (1+tailPower)*r*b.f
		qV, qS, qG = -tailPower*q/volts, emf*r*b.s, emf*r*b.g
	default:
		u := volts / emf
		b := t.at(o, u, se, grown)
		q, qV, qE, qS, qG = emf*b.f, b.u, b.f-u*b.u, emf*b.s, emf*b.g
	}
	z, dz := 1.0, 0.0
	if s != se {
		y2, ye2 := math.Exp(2*s), math.Exp(2*se)
		z = math.Sqrt((1 + ye2) / (1 + y2))
		dz = z * (ye2/(1+ye2)*ds - y2/(1+y2))
	}
	x := 1 / reactance
	qs := qS*ds*z + q*dz
	return current{
		amps: q * z * x, byVolts: qV * z * x, byEMF: qE * z * x,
		byReactance: (-qs - q*z) * x * x, byOhms: qs * x / ohms,
	}, qG * z * x
}
