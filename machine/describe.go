package machine

import (
	"fmt"
	"math"
	"strconv"

	"chargewright/internal/yamlread"
	"chargewright/unit"
)

// DescriptionFormat is the newest format of machine files that is read.
const DescriptionFormat = 1

// Description is one machine as its file has it.
type Description struct {
	ID, Name, About, Source string
	Poles                   int
	Winding                 Winding
	Ohms                    float64 // of one winding [Ohm]
	ZeroHenries             float64 // 0: as the inductance [H]
	Third, Fifth            float64
	RotorOhms, BrushVolts   float64 // RotorOhms 0: not told
	Diode                   Diode
	StarDiodes              bool
	FieldDiode              *Diode // nil: no field diodes

	henries *curve // of one winding [H], nil: constant
	Henries float64
	linkage *curve // peak EMF of a winding per electrical speed [V s], nil: by the law
	flux    struct{ k, knee, sat, residual float64 }
}

// ParseDescription reads a machine file. file names it in problems only. What a
// file may leave out: about, zero-inductance (then as inductance), third and
// fifth (0), residual (0), rotor (then the field current must be given),
// star-point-diodes (none), field-diode (none). The error is a problem.List with
// everything that is wrong.
func ParseDescription(file string, data []byte) (*Description, error) {
	f, top := yamlread.Open(file, data)
	m := top.Map("machine")
	d := new(Description)
	format := m.Need("format", "1")
	if v := format.Count(yamlread.FromOne); v > DescriptionFormat {
		format.Add("format "+strconv.Itoa(v)+" is newer than this program reads", "format: "+strconv.Itoa(DescriptionFormat))
	}
	d.ID = m.Need("id", "demo-55").ID()
	d.Name = m.Need("name", "what a technician calls the machine").Text()
	d.About = m.May("about").Text()
	d.Source = m.Need("source", "where the figures come from, or that they are invented").Text()
	poles := m.Need("poles", "12")
	d.Poles = poles.Count(yamlread.Within(2, 200, "between 2 and 200"))
	if d.Poles%2 != 0 {
		poles.Add("poles "+strconv.Itoa(d.Poles)+" is odd, and north and south come in pairs", "12 for six pairs")
	}
	winding := m.Need("winding", "star or delta")
	if winding.OneOf(windingNames[:]...) == Delta.String() {
		d.Winding = Delta
	}
	d.Ohms = m.Need("stator-ohms", "0.12 Ohm").Quantity(unit.Ohm, yamlread.Positive)
	d.readInductance(m)
	d.readEMF(m.Need("emf", "{flux: 13 mV.s, flux-knee: 2.5 A, saturation: 1}").Map("emf"))
	if rotor := m.May("rotor").Map("rotor"); rotor.Present() {
		d.RotorOhms = rotor.Need("ohms", "4.8 Ohm").Quantity(unit.Ohm, yamlread.Positive)
		d.BrushVolts = rotor.Need("brush-volts", "0.6 V").Quantity(unit.Volt, yamlread.NotNegative)
		rotor.Done()
	}
	d.Diode = readDiode(m.Need("diode", "{saturation: 5e-9 A, emission: 1.5, ohms: 5 mOhm}").Map("diode"))
	star := m.May("star-point-diodes")
	if d.StarDiodes = star.Yes(); d.StarDiodes && d.Winding == Delta {
		star.Add("a delta winding has no star point", "winding: star, or star-point-diodes: false")
	}
	if n := m.May("field-diode"); n.Present() {
		x := readDiode(n.Map("field-diode"))
		d.FieldDiode = &x
	}
	m.Done()
	if err := f.Err(); err != nil {
		return nil, err
	}
	return d, nil
}

func readDiode(m *yamlread.Map) Diode {
	d := Diode{
		Saturation: m.Need("saturation", "5e-9 A").Quantity(unit.Amp, yamlread.Positive),
		Emission:   m.Need("emission", "1.5").Number(yamlread.Within(0.5, 10, "between 0.5 and 10")),
		Ohms:       m.Need("ohms", "5 mOhm").Quantity(unit.Ohm, yamlread.Positive),
	}
	m.Done()
	return d
}

// readInductance reads a figure, or points against the field current.
func (d *Description) readInductance(m *yamlread.Map) {
	n := m.Need("inductance", "275 uH")
	if n.IsList() {
		if x, y, ok := readPoints(n, unit.Henry, yamlread.Positive); ok {
			d.henries = newCurve(x, y)
		}
	} else {
		d.Henries = n.Quantity(unit.Henry, yamlread.Positive)
	}
	d.ZeroHenries = m.May("zero-inductance").Quantity(unit.Henry, yamlread.Positive)
}

// measured are the ways in which an open-circuit voltage may be told: line-rms
// between two terminals, winding-rms and winding-peak across one winding.
var measured = []string{"line-rms", "winding-rms", "winding-peak"}

// readEMF reads Froehlich's law, or measured open-circuit points.
func (d *Description) readEMF(m *yamlread.Map) {
	harmonic := yamlread.Within(-0.5, 0.5, "between -0.5 and 0.5: a share of the fundamental")
	d.Third, d.Fifth = m.May("third").Number(harmonic), m.May("fifth").Number(harmonic)
	points := m.May("points")
	if !points.Present() {
		d.flux.k = m.Need("flux", "13 mV.s, or points: [[0 A, 0 V], [1 A, 9.7 V], …]").Quantity(unit.VoltSecond, yamlread.Positive)
		d.flux.knee = m.Need("flux-knee", "2.5 A").Quantity(unit.Amp, yamlread.Positive)
		d.flux.sat = m.Need("saturation", "1").Number(yamlread.NotNegative)
		d.flux.residual = m.May("residual").Number(yamlread.Share)
		m.Done()
		return
	}
	speed := m.Need("speed", "2000 rpm").Quantity(unit.AngularSpeed, yamlread.Positive)
	how := m.Need("volts", "line-rms, winding-rms or winding-peak").OneOf(measured...)
	x, y, ok := readPoints(points, unit.Volt, yamlread.NotNegative)
	m.Done()
	if !ok || how == "" || speed <= 0 || d.Poles < 2 {
		return
	}
	// To the peak of a winding's fundamental. Between the lines of a star, and in
	// a delta whose EMF it short-circuits, there is no third harmonic.
	share := math.Sqrt2
	switch {
	case how == "winding-peak":
		share = 1
	case how == "winding-rms" && d.Winding == Star:
		share /= math.Sqrt(1 + d.Third*d.Third + d.Fifth*d.Fifth)
	default:
		share /= math.Sqrt(1 + d.Fifth*d.Fifth)
		if d.Winding == Star {
			share /= math.Sqrt(3)
		}
	}
	for k := range y {
		y[k] *= share / (speed * float64(d.Poles) / 2)
		if k > 0 && y[k] < y[k-1] {
			points.Add("the volts fall with the field current at "+unit.Format(unit.Amp, x[k]), "points whose volts rise or stay")
			return
		}
	}
	d.linkage = newCurve(x, y)
}

// readPoints reads pairs of a field current and what was measured there.
func readPoints(n yamlread.Node, dim unit.Dim, rule yamlread.Rule) (x, y []float64, ok bool) {
	before := n.Problems()
	for _, item := range n.List() {
		pair := item.List()
		if len(pair) != 2 {
			if item.IsList() && !item.Commas() {
				item.Add("a point must have two values", "[2.5 A, "+dim.Example()+"]")
			}
			continue
		}
		a := pair[0].Quantity(unit.Amp, yamlread.NotNegative)
		b := pair[1].Quantity(dim, rule)
		if len(x) > 0 && a <= x[len(x)-1] && pair[0].Problems() == before {
			pair[0].Add("field current "+unit.Format(unit.Amp, a)+" does not rise", "points in the order of their field currents, each once")
		}
		x, y = append(x, a), append(y, b)
	}
	if n.Problems() == before && len(x) < 2 {
		n.Add("two points are the least", "[[0 A, …], [2.5 A, …]]")
	}
	return x, y, n.Problems() == before
}

// EMF is the peak of a winding's fundamental [V] at a field current [A] and an
// electrical speed [rad/s].
func (d *Description) EMF(field, omega float64) (float64, error) {
	if d.linkage != nil {
		k, err := d.linkage.at(field)
		return k * omega, err
	}
	phi, _, _ := flux(field, 1, d.flux.residual, d.flux.knee, d.flux.sat)
	return d.flux.k * phi * omega, nil
}

// Inductance is that of a winding [H] at a field current [A].
func (d *Description) Inductance(field float64) (float64, error) {
	if d.henries != nil {
		return d.henries.at(field)
	}
	return d.Henries, nil
}

// String names the machine.
func (d *Description) String() string { return fmt.Sprintf("%s (%s)", d.Name, d.ID) }
