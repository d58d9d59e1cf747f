package system

import (
	"crypto/sha256"
	"strconv"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/unit"
)

// Format is the newest system-file format that is read. All older ones are.
const Format = 1

// Parse reads a system file. file names it in problems only. What a file may
// leave out, and what that means: arrangement is its own id; about, loads, gaps, never, cautions,
// limits and drawing are then empty; bank is the battery's posts; a point's number 0 (cannot be touched), at 0, 0 (not
// drawn), terminal none; a gap's ohms OpenOhms; off, copper, reference, inert
// and outside false; a parameter's name what the models call it; a position's
// speed 0 and sets nothing; a move's elapsed as its minutes; a limit's value 0,
// the first, and per-kelvin 0; a fault's pattern healthy. A parameter that is
// left out stands at its nominal value (see params.go). What hook-ups brings is in
// hookups.go. The system is nil
// when there is any problem; the error is a problem.List with all of them.
func Parse(file string, data []byte) (*System, error) {
	own, taken := splitTaken(data)
	f, top := yamlread.Open(file, own)
	r := &reader{f: f, s: &System{Source: append([]byte(nil), data...)}, ids: map[string]map[string]yamlread.Pos{}}
	top = r.hookUps(top, taken)
	if r.baseless {
		return nil, f.Err() // what its base would bring is not missing
	}
	r.s.SHA256 = sha256.Sum256(r.s.Source)
	r.system(top.Map("system"))
	r.check()
	r.rig(top)
	if err := f.Err(); err != nil {
		return nil, err
	}
	r.s.refs, r.s.declared = r.elsewhere, r.ids
	return r.s, nil
}

// reader holds what is being read and which ids were declared where.
type reader struct {
	f   *yamlread.File
	s   *System
	ids map[string]map[string]yamlread.Pos // kind, id

	elsewhere []yamlread.Ref          // mentions of what other files declare
	routeAt   map[string]yamlread.Pos // where the drawing routes an element
	pairAt    []yamlread.Pos          // where each regulator stands
	hookAt    yamlread.Pos            // where the file takes hook-ups or a base; Line 0 = it does not
	based     bool                    // it is a base
	baseless  bool                    // it names a base that cannot be taken
	gone      map[string]bool         // what of the base was said to be left out
}

// declare reads an id that must be new among its kind.
func (r *reader) declare(kind string, m *yamlread.Map) string {
	n := m.Need("id", kind+"-1")
	id := n.ID()
	if id == "" {
		return ""
	}
	m.Label(kind + " " + id)
	if first, twice := r.ids[kind][id]; twice {
		n.Add(kind+" "+id+" is given twice, first in line "+strconv.Itoa(first.Line), "another id for one of them")
		return id
	}
	if r.ids[kind] == nil {
		r.ids[kind] = map[string]yamlread.Pos{}
	}
	r.ids[kind][id] = n.Pos()
	return id
}

func (r *reader) system(m *yamlread.Map) {
	s := r.s
	s.Format = ReadFormat(m, Format)
	s.ID = m.Need("id", "isolated-earth-side").ID()
	s.Arrangement = s.ID
	if a := m.May("arrangement"); a.Present() {
		s.Arrangement = a.Ref("arrangement")
	}
	s.Name = m.Need("name", "what a technician calls the arrangement").Text()
	s.About = m.May("about").Text()
	s.Volts = m.Need("volts", "12 V").Quantity(unit.Volt, yamlread.Positive)
	r.points(m.Need("points", "a list of test points"))
	r.joints(m.Need("joints", "a list of joints"))
	r.wires(m.Need("wires", "a list of wires"))
	r.loads(m.May("loads"))
	r.gaps(m.May("gaps"))
	r.machine(&r.s.Machine, m.Need("machine", "the alternator's figures").Map("machine"))
	r.battery(&r.s.Battery, m.Need("battery", "the battery's figures").Map("battery"))
	if second := m.May("second-battery"); second.Present() {
		if r.s.Series() {
			second.Add("a second battery beside a pair in series is not modelled", "link: under battery, or second-battery, not both")
		}
		r.battery(&r.s.Second, second.Map("second-battery"))
	}
	r.relay(m.May("relay").Map("relay"))
	r.splitter(m.May("splitter").Map("splitter"))
	r.regulator(&r.s.Regulator, &r.s.Machine, m.Need("regulator", "where the regulator is joined").Map("regulator"))
	r.secondMachine(m.May("second-machine"), m.May("second-regulator"))
	r.bank(m.May("bank").Map("bank"))
	r.params(m.Need("params", "a list of free parameters"))
	m.May("hook-ups") // read before: see hookups.go
	m.May("base")
	m.May("without")
	r.places(m.Need("places", "a list of switchable places, or hook-ups: "+strings.Join(HookUps(), " or ")))
	r.never(m.May("never"))
	r.cautions(m.May("cautions"))
	r.limits(m.May("limits"))
	r.faults(m.Need("faults", "a list of faults"))
	r.drawing(m.May("drawing").Map("drawing"))
	m.Done()
}

// ReadFormat reads the first key of every file: which format it is written in.
func ReadFormat(m *yamlread.Map, newest int) int {
	n := m.Need("format", "1")
	v := n.Count(yamlread.Within(1, 1e9, "1 or more"))
	if v > newest {
		n.Add("format "+strconv.Itoa(v)+" is newer than this program reads", "format: "+strconv.Itoa(newest))
	}
	return v
}

func (r *reader) points(list yamlread.Node) {
	numbers := map[int]string{}
	for _, n := range list.List() {
		m := n.Map("point")
		p := Point{ID: r.declare("point", m)}
		p.Name = m.Need("name", "what a technician calls it").Text()
		number := m.May("number")
		p.Number = number.Count(yamlread.Within(0, 999, "between 0 and 999"))
		if other, twice := numbers[p.Number]; twice && p.Number != 0 {
			number.Add("number "+strconv.Itoa(p.Number)+" is already that of "+other, "each number once, counted along the path")
		}
		numbers[p.Number] = p.ID
		p.X, p.Y = r.grid(m.May("at"))
		p.Terminal = m.May("terminal").Text()
		p.Reference = m.May("reference").Yes()
		p.Refuse = m.May("refuse").Text()
		m.Done()
		r.s.Points = append(r.s.Points, p)
	}
}

// grid reads a place on the drawing: [x, y]. Left out, it is 0, 0 and the
// drawing does not show the point.
func (r *reader) grid(n yamlread.Node) (x, y float64) {
	items := n.List()
	if n.IsList() && len(items) != 2 {
		if !n.Commas() {
			n.Add("at must be two numbers", "at: [x, y] on the drawing's grid")
		}
		return 0, 0
	}
	if len(items) == 2 {
		return items[0].Number(), items[1].Number()
	}
	return 0, 0
}

// element reads what all elements share.
func (r *reader) element(kind ElementKind, m *yamlread.Map) Element {
	e := Element{Kind: kind, ID: r.declare("element", m)}
	m.Label(strings.TrimSpace(string(kind) + " " + e.ID))
	e.Name = m.Need("name", "what a technician calls it").Text()
	e.From, e.To = r.between(m.Need("between", "[point, point]"))
	e.Part = m.May("part").Text()
	return e
}

// between reads a pair of points.
func (r *reader) between(n yamlread.Node) (from, to string) {
	items := n.List()
	if !n.IsList() {
		return "", ""
	}
	if len(items) != 2 {
		n.Add("between must name two points", "between: [from, to]")
		return "", ""
	}
	from, to = items[0].Ref("point"), items[1].Ref("point")
	if from != "" && from == to {
		items[1].Add("both ends are "+to, "two different points")
	}
	return from, to
}

// source reads where a figure comes from.
func source(m *yamlread.Map) (string, Basis) {
	return m.May("source").Text(), ReadBasis(m.Need("basis", "memory, or: "+strings.Join(bases[:], ", ")))
}

var bases = [...]string{string(Read), string(ReadSecondary), string(Memory), string(CommonPractice), string(Computed), string(Invented)}

// ReadBasis reads how much a figure is worth.
func ReadBasis(n yamlread.Node) Basis { return Basis(n.OneOf(bases[:]...)) }

func (r *reader) joints(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("joint")
		e := r.element(Joint, m)
		e.Median = m.Need("median", "0.5 mOhm").Quantity(unit.Ohm, yamlread.Positive)
		e.Spread = m.Need("spread", "1.8").Number(yamlread.FromOne)
		e.Source, e.Basis = source(m)
		m.Done()
		r.s.Elements = append(r.s.Elements, e)
	}
}

// copper20 is the resistivity of annealed copper at 20 degC [Ohm m].
// Source: IEC 60028 (International Annealed Copper Standard), 1/58 Ohm mm2/m.
const copper20 = 1.0 / 58 * 1e-6

func (r *reader) wires(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("wire")
		e := r.element(Wire, m)
		e.Copper = true
		e.Area = m.Need("area", "4 mm2").Quantity(unit.SquareMetre, yamlread.Positive)
		e.Length = m.Need("length", "1.5 m").Quantity(unit.Metre, yamlread.Positive)
		if e.Area > 0 {
			e.Median = copper20 * e.Length / e.Area
		}
		e.Spread = m.Need("spread", "1.05").Number(yamlread.FromOne)
		e.Source, e.Basis = source(m)
		m.Done()
		r.s.Elements = append(r.s.Elements, e)
	}
}

func (r *reader) loads(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("load")
		e := r.element(Load, m)
		e.Median = m.Need("ohms", "1.2 Ohm").Quantity(unit.Ohm, yamlread.Positive)
		e.Spread = m.Need("spread", "1.1").Number(yamlread.FromOne)
		e.Off = m.May("off").Yes()
		e.Copper = m.May("copper").Yes()
		e.Source, e.Basis = source(m)
		m.Done()
		r.s.Elements = append(r.s.Elements, e)
	}
}

// OpenOhms is the resistance of a gap whose file gives none [Ohm].
const OpenOhms = 1e9

func (r *reader) gaps(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("gap")
		e := r.element(Gap, m)
		e.Median, e.Spread = OpenOhms, 1
		if ohms := m.May("ohms"); ohms.Present() {
			e.Median = ohms.Quantity(unit.Ohm, yamlread.Positive)
		}
		e.Source = m.May("source").Text()
		e.Basis = ReadBasis(m.May("basis"))
		m.Done()
		r.s.Elements = append(r.s.Elements, e)
	}
}
