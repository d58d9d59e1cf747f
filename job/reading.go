package job

import (
	"strconv"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/question"
	"chargewright/system"
	"chargewright/unit"
)

// want is what one value of a reading must be.
type want struct {
	name     string
	dim      unit.Dim // of a number
	classes  []string // of a look; then dim does not count
	optional bool
}

// wantsOf lists what the values of a procedure's reading must be.
func wantsOf(p *question.Procedure) []want {
	var out []want
	for _, o := range p.Seek() {
		out = append(out, wantOf(o))
	}
	return out
}

// oneLine reads - procedure-id: value, or a list of values.
func (r *fileReader) oneLine(p yamlread.Pair) {
	r.taken++
	id := r.take("r"+strconv.Itoa(r.taken), p.At)
	if _, ok := r.shelf.Catalogue[p.Key]; !ok {
		all := append(r.shelf.Catalogue.IDs(), entryKinds...)
		r.f.Add(p.At, p.Key+" is neither a procedure nor a kind of entry", yamlread.Suggest(p.Key, all))
		return
	}
	b := ReadingBody{ID: id, Procedure: r.known(p.Key, p.At)}
	if b.Procedure == "" {
		return
	}
	wants := wantsOf(r.shelf.Catalogue[b.Procedure])
	b.Values = r.readValues(p.Value, wants)
	r.done(b, wants)
}

// done records a reading and remembers what corrections of it must be.
func (r *fileReader) done(b ReadingBody, wants []want) {
	if b.ID == "" {
		return
	}
	r.readings[b.ID] = wants
	r.order = append(r.order, b.ID)
	r.record(Took, b)
}

func (r *fileReader) reading(m *yamlread.Map) {
	r.taken++
	b := ReadingBody{ID: r.newID(m, "r", r.taken)}
	procedure, quantity := m.May("procedure"), m.May("quantity")
	between, through := m.May("between"), m.May("through")
	var wants []want
	switch {
	case !m.Present():
		return
	case procedure.Present():
		for _, n := range []yamlread.Node{quantity, between, through} {
			if n.Present() {
				n.Add("a reading with a procedure does not say what is measured: the procedure does", "procedure: alone, or quantity: with between: or through:")
			}
		}
		if b.Procedure = r.procedure(procedure); b.Procedure != "" {
			wants = wantsOf(r.shelf.Catalogue[b.Procedure])
		}
	case quantity.Present() || between.Present() || through.Present():
		wants = r.free(&b, m)
	default:
		m.Add("does not say what was measured", "procedure: …, or quantity: … with between: […] or through: …")
	}
	r.circumstances(&b, m)
	if wants != nil {
		b.Values = r.values(m, wants)
	} else {
		m.May("value")
		m.May("values")
		m.May("u")
	}
	m.Done()
	r.done(b, wants)
}

// free reads what a free reading measures: a quantity between two points or
// through a branch.
func (r *fileReader) free(b *ReadingBody, m *yamlread.Map) []want {
	quantity := m.Need("quantity", "volts, ac-volts, amps or ohms")
	between, through := m.May("between"), m.May("through")
	b.Quantity = quantity.OneOf(freeQuantities...)
	if b.Quantity == string(question.Amps) {
		if between.Present() {
			between.Add("amps flow through a branch, not between two points", "through: the id of a joint, wire or load")
		}
		b.Through = r.oneOf(m.Need("through", "the id of a joint, wire or load"), "branch", branches(r.s))
	} else if b.Quantity != "" {
		if through.Present() {
			through.Add(b.Quantity+" stand between two points", "between: [red, black]")
		}
		b.Between = r.leads(m.Need("between", "[red, black]"))
	}
	b.Meter = r.oneOf(m.May("meter"), "meter", instruments())
	if b.Quantity == "" {
		return nil
	}
	dims := map[string]unit.Dim{"volts": unit.Volt, "ac-volts": unit.Volt, "amps": unit.Amp, "ohms": unit.Ohm}
	return []want{{name: b.Quantity, dim: dims[b.Quantity]}}
}

func (r *fileReader) leads(n yamlread.Node) []string {
	items := n.List()
	if n.IsList() && len(items) != 2 {
		n.Add("a meter has two leads", "between: [red, black]")
		return nil
	}
	var points []string
	for _, p := range r.s.Points {
		points = append(points, p.ID)
	}
	var out []string
	for _, item := range items {
		out = append(out, r.oneOf(item, "point", points))
	}
	if len(out) == 2 && out[0] == out[1] && out[0] != "" {
		n.Add("both leads are on "+out[0], "two different points")
	}
	return out
}

// oneOf reads an id out of a list, naming what kind it is in the problem.
func (r *fileReader) oneOf(n yamlread.Node, kind string, known []string) string {
	id := n.Text()
	if id == "" {
		return ""
	}
	for _, k := range known {
		if k == id {
			return id
		}
	}
	n.Add("no "+kind+" is called "+id, yamlread.Suggest(id, known))
	return ""
}

func branches(s *system.System) []string {
	var out []string
	for _, e := range s.Elements {
		out = append(out, e.ID)
	}
	return out
}

// circumstances reads how the vehicle stood and what else was seen.
func (r *fileReader) circumstances(b *ReadingBody, m *yamlread.Map) {
	if n := m.May("rig"); n.Present() {
		b.Rig = r.rig(n)
	}
	held := m.May("held").Map("held")
	for _, p := range held.Pairs() {
		dim, ok := question.HoldDim(p.Key)
		if !ok {
			r.f.Add(p.At, p.Key+" is nothing that is held", yamlread.Suggest(p.Key, question.HoldWords()))
			continue
		}
		b.Held = append(b.Held, HeldBody{What: p.Key, Target: p.Value.Quantity(dim, yamlread.NotNegative)})
	}
	for _, p := range m.May("with").Map("with").Pairs() {
		dim, ok := withDims[p.Key]
		if !ok {
			r.f.Add(p.At, p.Key+" is no other meter's value", yamlread.Suggest(p.Key, WithWords))
			continue
		}
		if v, ok := readValue(p.Value, want{name: p.Key, dim: dim}); ok {
			b.With = append(b.With, WithBody{What: p.Key, Value: v})
		}
	}
	if s := m.May("showing").OneOf("yes", "no", "cannot-tell"); s != "cannot-tell" {
		b.Showing = s
	}
	b.Seat = m.May("seat").Count(yamlread.Within(0, 1e6, "0 or more"))
	b.Hot = m.May("hot").Yes()
	if n := m.May("basis"); n.Present() {
		b.Basis = n.Text()
		if b.Basis != "" && b.Basis != "entered" && b.Basis != "live" && b.Basis != "simulated" && !strings.HasPrefix(b.Basis, "capture:") {
			n.Add("basis "+strconv.Quote(b.Basis)+" is not known", "entered, live, simulated or capture:<sha256>")
		}
	}
}

// values reads value or values of a reading or a correction.
func (r *fileReader) values(m *yamlread.Map, wants []want) []ValueBody {
	one, many := m.May("value"), m.May("values")
	u := m.May("u")
	switch {
	case one.Present() && many.Present():
		many.Add("both value and values are given", "one of them")
		return nil
	case !one.Present() && !many.Present():
		m.Need("value", example(wants))
		return nil
	case many.Present():
		one = many
	}
	out := r.readValues(one, wants)
	if u.Present() && len(wants) > 0 && wants[0].classes == nil {
		if len(wants) > 1 {
			u.Add("u stands for a single value", "no u; the meter's own accuracy is used")
		} else if v := u.Quantity(wants[0].dim, yamlread.Positive); len(out) > 0 {
			out[0].U = v
		}
	}
	return out
}
