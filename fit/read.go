package fit

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/system"
	"chargewright/unit"
)

// Parse reads a figures file. file names it in problems only; template finds a
// system by what the file calls it. What a file may leave out, and what that
// means: about is then made from the figures; an id, the section's name and a
// count; basis, the file's own; machine and battery, the template's figures,
// which the report says; field of an output, the output's own volts; less-field
// false, but where the field is fed inside the machine it must be said; amps of a
// cut-in, 1 A. The error is a problem.List with all that is
// wrong; the figures are nil then.
func Parse(file string, data []byte, template func(id string) (*system.System, error)) (*Figures, error) {
	f, top := yamlread.Open(file, data)
	r := &reader{f: f, x: &Figures{}, ids: map[string]int{}}
	r.file(top.Map("figures"), template)
	if err := f.Err(); err != nil {
		return nil, err
	}
	return r.x, nil
}

type reader struct {
	f     *yamlread.File
	x     *Figures
	ids   map[string]int // line of each id
	volts float64        // nominal [V]; 0 while the template is not known
}

func (r *reader) file(m *yamlread.Map, template func(id string) (*system.System, error)) {
	x := r.x
	x.Format = system.ReadFormat(m, Format)
	x.ID = m.Need("id", "van-45a").ID()
	x.Name = m.Need("name", "what a technician calls the vehicle").Text()
	x.About = m.May("about").Text()
	r.template(m.Need("template", "the id of a system of the library: "+strings.Join(system.Library(), ", ")), template)
	if x.Template != nil && x.ID == x.Template.ID {
		m.May("id").Add("id "+x.ID+" is the template's", "an id of its own for this vehicle")
	}
	x.Manual = m.Need("manual", "the title of the manual that the pages are of").Text()
	basis := m.Need("basis", "read, if the manual lay before you")
	x.Basis = system.ReadBasis(basis)
	r.machine(m.May("machine").Map("machine"))
	r.outputs(m.Need("outputs", "[{amps: 38 A, tolerance: 5 %, volts: 14 V, alternator: 6000 rpm, windings: cold, page: \"41\"}]"))
	r.cutIns(m.May("cut-in"))
	r.fields(m.May("field-current"))
	r.windings(m.May("rotor"), Rotor, 0.05, 500, "4.8 Ohm")
	r.windings(m.May("stator"), Stator, 1e-3, 5, "0.2 Ohm")
	r.regulated(m.May("regulated"))
	r.battery(m.May("battery").Map("battery"))
	r.wires(m.May("wires"))
	r.pulley()
	m.Done()
}

// template finds the system that the file starts from.
func (r *reader) template(n yamlread.Node, find func(id string) (*system.System, error)) {
	id := n.Text()
	if id == "" {
		return
	}
	s, err := find(id)
	switch {
	case err != nil && slices.Contains(system.Library(), id) || err != nil && strings.ContainsAny(id, "/."):
		n.Add("template "+id+" cannot be taken: "+err.Error(), "a system file without problems, or one of "+strings.Join(system.Library(), ", "))
		return
	case err != nil:
		n.Add("there is no template "+strconv.Quote(id), yamlread.Suggest(id, system.Library()))
		return
	}
	r.x.Template, r.volts = s, s.Volts
}

func (r *reader) machine(m *yamlread.Map) {
	if !m.Present() {
		return
	}
	x := r.x
	x.PolePairs = m.May("pole-pairs").Count(yamlread.Within(1, 60, "between 1 and 60"))
	x.PulleyRatio = m.May("pulley-ratio").Number(yamlread.Within(0.5, 10, "between 0.5 and 10: turns of the alternator for one of the engine"))
	x.Machine = r.origin(m)
	m.Done()
}

// origin reads where a figure stands.
func (r *reader) origin(m *yamlread.Map) Origin {
	o := Origin{Pos: m.Pos(), Basis: r.x.Basis}
	o.Page = m.Need("page", "\"41\", the page that it stands on").Text()
	if b := m.May("basis"); b.Present() {
		o.Basis = system.ReadBasis(b)
	}
	return o
}

// figure begins figure n of its section, or the only one where n is below 0: its
// id and origin.
func (r *reader) figure(m *yamlread.Map, kind Kind, n int) Figure {
	word := strings.TrimSuffix(string(kind), "s")
	f := Figure{Kind: kind, ID: fmt.Sprintf("%s-%d", word, n+1), Origin: r.origin(m)}
	if n < 0 {
		f.ID = word
	}
	m.Label(f.ID)
	at := m.May("id")
	if at.Present() {
		f.ID = at.ID()
		m.Label(word + " " + f.ID)
	}
	if line, twice := r.ids[f.ID]; twice && at.Present() {
		at.Add("id "+f.ID+" is given twice, first in line "+strconv.Itoa(line), "another id for one of them")
	}
	r.ids[f.ID] = m.Pos().Line
	return f
}

// value reads a figure's value: key: 38 A with a tolerance, or key: {low: 36 A,
// high: 40 A} with one end or both.
func (r *reader) value(m *yamlread.Map, f *Figure, key, example string, rule yamlread.Rule) {
	r.valueOf(m, f, m.Need(key, example+" with tolerance: 5 %, or {low: …, high: …}"), rule)
}

func (r *reader) valueOf(m *yamlread.Map, f *Figure, n yamlread.Node, rule yamlread.Rule) {
	dim, tol := f.Dim(), m.May("tolerance")
	if !n.Present() {
		return
	}
	if n.IsMap() {
		r.between(n.Map(f.ID), f, rule)
		if tol.Present() {
			tol.Add("a range needs no tolerance", "no tolerance, or one value with it")
		}
		return
	}
	before := n.Problems()
	v := n.Quantity(dim, rule)
	if !tol.Present() {
		m.Add("it has no tolerance, and without one nothing tells how far it may be missed", "tolerance: 5 %, or the range as {low: …, high: …}")
	}
	t := r.tolerance(tol, dim, v)
	if n.Problems() > before {
		return
	}
	low, high := v-t, v+t
	f.Low, f.High = &low, &high
}

// tolerance reads 5 % or an amount in the figure's own unit.
func (r *reader) tolerance(n yamlread.Node, dim unit.Dim, of float64) float64 {
	if !n.Present() {
		return 0
	}
	v, got, ok := n.Any()
	switch {
	case !ok:
		return 0
	case got == unit.One && v > 0.5:
		n.Add("a tolerance of "+unit.Format(unit.One, 100*v)+" % says nothing", "a share up to 50 %, or an amount such as "+dim.Example())
		return 0
	case got == unit.One && of == 0:
		return 0 // what the figure is has a problem of its own
	case got == unit.One:
		v *= of
	case got != dim:
		n.Add("the tolerance is in "+got.String()+", and the figure in "+dim.String(), "tolerance: 5 %, or an amount such as "+dim.Example())
		return 0
	}
	if v <= 0 {
		n.Add("a tolerance must be greater than 0", "how far the figure may be off")
	} else if v >= of && of > 0 {
		n.Add("the tolerance is as large as the figure", "a smaller tolerance")
	}
	return v
}

// between reads a range, one end of which may be left out.
func (r *reader) between(m *yamlread.Map, f *Figure, rule yamlread.Rule) {
	low, high := m.May("low"), m.May("high")
	if !low.Present() && !high.Present() {
		m.Add("has neither low nor high", "low: …, high: …, or one of them")
	}
	end := func(n yamlread.Node) *float64 {
		if !n.Present() {
			return nil
		}
		v := n.Quantity(f.Dim(), rule)
		return &v
	}
	f.Low, f.High, f.Range = end(low), end(high), true
	if f.Low != nil && f.High != nil && *f.Low > 0 && *f.High > 0 && *f.Low >= *f.High {
		high.Add("high must be above low", "a larger high, or a smaller low")
	}
	m.Done()
}
