package fit

import (
	"fmt"
	"strconv"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/system"
	"chargewright/unit"
)

// Temperatures that the words stand for [K].
const (
	// Cold is the air of an alternator test: 23 degC (ISO 8854:2012, read in an
	// excerpt; SAE J56 JUN1999, read in a digest).
	Cold = unit.ZeroCelsius + 23
	// Hot is a machine soaked under load: 70 K over air of 20 degC, as prediction
	// takes it (memory, rough).
	Hot = unit.ZeroCelsius + 90
)

// cutInAmps is the output that counts as begun where the figure does not say
// [A]: the least that a dash ammeter of the time shows (memory).
const cutInAmps = 1

func (r *reader) outputs(list yamlread.Node) {
	items := list.List()
	if list.IsList() && len(items) == 0 {
		list.Add("outputs is empty: nothing says how large the machine is", "at least one output of the manual")
	}
	for i, n := range items {
		m := n.Map("output")
		f := r.figure(m, Output, i)
		r.value(m, &f, "amps", "38 A", yamlread.Within(0.5, 1000, "from 0.5 A to 1000 A"))
		f.Volts = r.systemVolts(m.Need("volts", "14 V, at which the amps are stated"))
		speed, engine := r.whose(m, "2875 rpm")
		f.Engine = engine
		f.Speed = speed.Quantity(unit.AngularSpeed, r.speeds(engine))
		f.Kelvin = r.warmth(m)
		r.excited(m.May("field"), &f)
		r.field(m, &f)
		m.Done()
		r.x.List = append(r.x.List, f)
	}
}

// field reads whether the machine's own field is taken off the amps. Where the
// field is fed inside the machine that must be said: the stud gives what the
// field leaves, and ratings are so meant, but a bench may measure both.
func (r *reader) field(m *yamlread.Map, f *Figure) {
	n := m.May("less-field")
	f.LessField = n.Yes()
	if !n.Present() && r.x.Template != nil && fedInside(r.x.Template) {
		m.Add("the field of "+r.x.Template.ID+" is fed inside, from the output: are the amps those of the stud, without the field's?", "less-field: true if they are, else less-field: false")
	}
}

// fedInside says whether the machine itself feeds its field: through field diodes,
// or where joints alone lead from the output to a slip ring.
func fedInside(t *system.System) bool {
	if t.Machine.DPlus != "" {
		return true
	}
	seen := map[string]bool{t.Machine.Output: true}
	for grown := true; grown; {
		grown = false
		for _, e := range t.Elements {
			if e.Kind == system.Joint && seen[e.From] != seen[e.To] {
				seen[e.From], seen[e.To], grown = true, true, true
			}
		}
	}
	return seen[t.Machine.RingA] || seen[t.Machine.RingB]
}

// excited reads how the field is fed when not from the output's own volts.
func (r *reader) excited(n yamlread.Node, f *Figure) {
	if !n.Present() {
		return
	}
	v, dim, ok := n.Any()
	switch {
	case !ok:
	case dim == unit.Amp && v > 0 && v < 50:
		f.FieldAmps = &v
	case dim == unit.Volt && v > 0 && v < 100:
		f.FieldVolt = &v
	case dim == unit.Amp || dim == unit.Volt:
		n.Add("that is no field of an alternator", "field: 2.5 A, or field: 12 V")
	default:
		n.Add("field is "+dim.String()+", and amps or volts are wanted", "field: 2.5 A, or field: 12 V")
	}
}

// whose finds the speed and whether it is the engine's. A speed without an owner
// is asked about: the two differ by the pulleys.
func (r *reader) whose(m *yamlread.Map, example string) (speed yamlread.Node, engine bool) {
	alternator, motor := m.May("alternator"), m.May("engine")
	for _, key := range []string{"speed", "rpm"} {
		if n := m.May(key); n.Present() {
			n.Add("whose "+key+" is this?", "engine: "+example+", or alternator: "+example)
			return yamlread.Node{}, false
		}
	}
	switch {
	case alternator.Present() && motor.Present():
		motor.Add("both speeds are given, and the pulley ratio ties them", "the one that the manual states")
		return alternator, false
	case alternator.Present():
		return alternator, false
	case motor.Present():
		return motor, true
	}
	m.Add("at which speed, and whose?", "engine: "+example+", or alternator: "+example)
	return yamlread.Node{}, false
}

const rpm = 2 * 3.141592653589793 / 60 // [rad/s]

// speeds bounds a speed so that the engine's is not taken for the alternator's.
func (r *reader) speeds(engine bool) yamlread.Rule {
	if engine {
		return yamlread.Within(200*rpm, 9000*rpm, "from 200 rpm to 9000 rpm; if it is the alternator's: alternator: …")
	}
	return yamlread.Within(500*rpm, 30000*rpm, "from 500 rpm to 30000 rpm; if it is the engine's: engine: …")
}

// systemVolts reads a voltage of the running system: it must be near the
// template's, so that 28 V is not taken for a 12 V machine's.
func (r *reader) systemVolts(n yamlread.Node) float64 {
	before := n.Problems()
	v := n.Quantity(unit.Volt, yamlread.Positive)
	if r.volts > 0 && n.Present() && n.Problems() == before && (v < 0.75*r.volts || v > 1.4*r.volts) {
		n.Add(unit.Format(unit.Volt, v)+" is no voltage of a running system of "+unit.Format(unit.Volt, r.volts)+", which the template is",
			"the volts at which the figure is stated, or the template of another system")
	}
	return v
}

// warmth reads how warm the windings are.
func (r *reader) warmth(m *yamlread.Map) float64 {
	n := m.Need("windings", "cold or hot, or their temperature: 25 degC")
	if !n.Present() {
		return Cold
	}
	before := n.Problems()
	switch word := n.Text(); {
	case n.Problems() > before || word == "cold":
		return Cold
	case word == "hot":
		return Hot
	case word == "warm":
		n.Add("warm may be anything", "cold or hot, or the temperature: 60 degC")
		return Cold
	case !strings.ContainsAny(word, "0123456789"):
		n.Add(fmt.Sprintf("windings %q is not known", word), "cold or hot, or their temperature: 25 degC")
		return Cold
	}
	return n.Quantity(unit.Kelvin, temperatures)
}

var temperatures = yamlread.Within(unit.ZeroCelsius-45, unit.ZeroCelsius+200, "from -45 degC to 200 degC")

func (r *reader) cutIns(list yamlread.Node) {
	for i, n := range list.List() {
		m := n.Map("cut-in")
		f := r.figure(m, CutIn, i)
		speed, engine := r.whose(m, "1050 rpm")
		f.Engine = engine
		r.valueOf(m, &f, speed, r.speeds(engine))
		f.Volts = r.systemVolts(m.Need("volts", "13 V, at which it begins"))
		f.Kelvin = r.warmth(m)
		f.Amps = cutInAmps
		if a := m.May("amps"); a.Present() {
			f.Amps = a.Quantity(unit.Amp, yamlread.Within(0.2, 20, "from 0.2 A to 20 A"))
		}
		m.Done()
		r.x.List = append(r.x.List, f)
	}
}

func (r *reader) fields(list yamlread.Node) {
	for i, n := range list.List() {
		m := n.Map("field current")
		f := r.figure(m, FieldCurrent, i)
		r.value(m, &f, "amps", "2.5 A", yamlread.Within(0.05, 50, "from 0.05 A to 50 A"))
		f.Volts = m.Need("volts", "12 V across the field").Quantity(unit.Volt, yamlread.Within(1, 60, "from 1 V to 60 V"))
		f.Kelvin = m.Need("temperature", "20 degC, of the rotor").Quantity(unit.Kelvin, temperatures)
		m.Done()
		r.x.List = append(r.x.List, f)
	}
}

// windings reads ohms of rotor or stator.
func (r *reader) windings(list yamlread.Node, kind Kind, least, most float64, example string) {
	for i, n := range list.List() {
		m := n.Map(string(kind))
		f := r.figure(m, kind, i)
		r.value(m, &f, "ohms", example, yamlread.Within(least, most,
			"from "+unit.Format(unit.Ohm, least)+" to "+unit.Format(unit.Ohm, most)+"; mind Ohm and mOhm"))
		f.Kelvin = m.Need("temperature", "20 degC, of the winding").Quantity(unit.Kelvin, temperatures)
		m.Done()
		r.x.List = append(r.x.List, f)
	}
}

func (r *reader) regulated(list yamlread.Node) {
	for i, n := range list.List() {
		m := n.Map("regulated volts")
		f := r.figure(m, Regulated, i)
		bounds := yamlread.Positive
		if r.volts > 0 {
			bounds = yamlread.Within(r.volts, 1.4*r.volts, fmt.Sprintf("from %g V to %.3g V, as a system of %g V is regulated", r.volts, 1.4*r.volts, r.volts))
		}
		r.value(m, &f, "volts", "14.1 V", bounds)
		f.Kelvin = m.Need("temperature", "25 degC, of the regulator").Quantity(unit.Kelvin, temperatures)
		at := m.Need("at", "battery, or regulator: where the volts are taken")
		f.AtBattery = at.OneOf("battery", "regulator") == "battery"
		m.Done()
		r.x.List = append(r.x.List, f)
	}
}

// standards of cold cranking, with the volts that a six-cell battery must still
// have. sae: SAE J537, 30 s (read in a technician study guide); en: EN 50342-1,
// 10 s (memory).
var standards = map[string]float64{"sae": 7.2, "en": 7.5}

func (r *reader) battery(m *yamlread.Map) {
	if !m.Present() {
		return
	}
	r.x.AmpHours = m.Need("capacity", "55 Ah").Quantity(unit.AmpHour, yamlread.Within(5*3600, 500*3600, "from 5 Ah to 500 Ah")) / 3600
	r.x.Battery = r.origin(m)
	if n := m.May("cold-cranking"); n.Present() {
		c := n.Map("cold cranking")
		f := r.figure(c, ColdCranking, -1)
		r.value(c, &f, "amps", "280 A", yamlread.Within(20, 3000, "from 20 A to 3000 A"))
		f.Standard = c.Need("standard", "sae (7.2 V after 30 s) or en (7.5 V after 10 s)").OneOf("sae", "en")
		f.Volts = standards[f.Standard] * max(r.volts, 1) / 12
		c.Done()
		r.x.List = append(r.x.List, f)
	}
	m.Done()
}

func (r *reader) wires(list yamlread.Node) {
	line := map[string]int{}
	for _, n := range list.List() {
		m := n.Map("wire")
		at := m.Need("wire", "the id of a wire of the template")
		w := Wire{ID: at.Text()}
		m.Label("wire " + w.ID)
		r.known(at, w.ID)
		if first, twice := line[w.ID]; twice && w.ID != "" {
			at.Add("wire "+w.ID+" is given twice, first in line "+strconv.Itoa(first), "one of them")
		}
		line[w.ID] = at.Pos().Line
		w.Area = m.Need("area", "4 mm2 or 10 AWG").Quantity(unit.SquareMetre, yamlread.Positive)
		w.Length = m.Need("length", "1.5 m").Quantity(unit.Metre, yamlread.Positive)
		w.Origin = r.origin(m)
		m.Done()
		r.x.Wires = append(r.x.Wires, w)
	}
}

// known: the template must have such a wire.
func (r *reader) known(at yamlread.Node, id string) {
	if r.x.Template == nil || id == "" {
		return
	}
	var wires []string
	for _, e := range r.x.Template.Elements {
		switch {
		case e.ID == id && e.Kind == system.Wire:
			return
		case e.ID == id:
			at.Add(id+" is a "+string(e.Kind)+" of the template, not a wire", "the id of a wire")
			return
		case e.Kind == system.Wire:
			wires = append(wires, e.ID)
		}
	}
	at.Add("the template has no wire "+id, yamlread.Suggest(id, wires))
}

// pulley: figures by engine speed need the ratio.
func (r *reader) pulley() {
	if r.x.PulleyRatio > 0 {
		return
	}
	for i := range r.x.List {
		if f := &r.x.List[i]; f.Engine {
			r.f.Add(f.Pos, f.ID+": the speed is the engine's, and no pulley ratio is given",
				"machine: {pulley-ratio: 2.3, page: …}, or alternator: … rpm")
			return
		}
	}
}
