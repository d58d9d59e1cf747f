package system

import (
	"strconv"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/rig"
	"chargewright/unit"
)

// places reads the switchable places in two rounds: names first, because moves
// and conditions speak of places that stand further down.
func (r *reader) places(list yamlread.Node) {
	items := list.List()
	if len(items) > rig.MaxPlaces {
		items[rig.MaxPlaces].Add("there are more than "+strconv.Itoa(rig.MaxPlaces)+" places", "fewer places, joined where they never move apart")
		items = items[:rig.MaxPlaces]
	}
	maps := make([]*yamlread.Map, len(items))
	r.s.Rig.Places = make([]rig.Place, len(items))
	for i, n := range items {
		maps[i] = n.Map("place")
		p := &r.s.Rig.Places[i]
		p.ID = r.declare("place", maps[i])
		p.Name = maps[i].Need("name", "what a technician calls it").Text()
		r.before(maps[i].May("before"))
		p.Role = maps[i].Need("role", "what the rules call it, such as engine").Text()
		p.Positions = r.positions(p, maps[i].Need("positions", "a list of positions"))
	}
	for i, m := range maps {
		p := &r.s.Rig.Places[i]
		p.Moves = r.moves(p, m.May("moves"))
		m.Done()
	}
}

// before reads where among the places of the hook-ups a new place stands: things
// are hooked up in the order of places.
func (r *reader) before(n yamlread.Node) {
	if n.Present() && r.hookAt.Line == 0 {
		n.Add("before: places a new place among those that hook-ups: brings, and there are none", "the places in the order in which things are hooked up")
		return
	}
	n.Ref("place")
}

func (r *reader) positions(p *rig.Place, list yamlread.Node) []rig.Position {
	items := list.List()
	if list.IsList() && (len(items) == 0 || len(items) > rig.MaxPositions) {
		list.Add("place "+p.ID+" has "+strconv.Itoa(len(items))+" positions", "1 to "+strconv.Itoa(rig.MaxPositions)+" positions, the resting one first")
		return nil
	}
	lines := map[string]int{}
	out := make([]rig.Position, 0, len(items))
	for _, n := range items {
		m := n.Map("position")
		id := m.Need("id", "\"off\"")
		q := rig.Position{ID: id.ID()}
		m.Label("position " + p.ID + "/" + q.ID)
		if line, twice := lines[q.ID]; twice && q.ID != "" {
			id.Add("position "+q.ID+" is given twice, first in line "+strconv.Itoa(line), "another id for one of them")
		}
		lines[q.ID] = id.Pos().Line
		q.Name = m.Need("name", "what a technician calls it").Text()
		q.Inert = m.May("inert").Yes()
		if speed := m.May("speed"); speed.Present() {
			q.Engine = speed.Quantity(unit.AngularSpeed, yamlread.NotNegative)
			if p.Role != "engine" && p.Role != "" {
				speed.Add("only a place with the role engine has a speed", "no speed here")
			}
		}
		if reached := m.May("reached"); reached.Present() {
			q.Reached = reached.Quantity(unit.AngularSpeed, yamlread.Positive)
			if q.Reached <= q.Engine || q.Engine == 0 {
				reached.Add("reached is a speed that the engine was taken up to before it came back to this one", "more than speed, which is above 0, or no reached")
			}
		}
		for _, set := range m.May("sets").List() {
			q.Sets = append(q.Sets, r.set(set))
		}
		m.Done()
		out = append(out, q)
	}
	return out
}

// set reads what a position does to one element or parameter.
func (r *reader) set(n yamlread.Node) rig.Set {
	m := n.Map("set")
	element := m.Need("element", "the id of an element or parameter")
	s := rig.Set{Element: element.Ref("target")}
	dim := unit.Ohm
	if k, ok := paramKinds[s.Element]; ok {
		dim = k.Dim
	}
	given := 0
	for _, key := range []string{"open", "closed", "value", "add"} {
		v := m.May(key)
		if !v.Present() {
			continue
		}
		given++
		switch key {
		case "open":
			s.Open = v.Yes()
		case "closed":
			s.Closed = v.Yes()
		case "value":
			s.Value = v.Quantity(dim)
		case "add":
			s.Add = v.Quantity(dim)
		}
	}
	if given != 1 && m.Present() {
		m.Add("says "+strconv.Itoa(given)+" things where one is wanted", "one of open: true, closed: true, value: …, add: …")
	}
	m.Done()
	return s
}

func (r *reader) moves(p *rig.Place, list yamlread.Node) []rig.Move {
	var out []rig.Move
	for _, n := range list.List() {
		m := n.Map("move of " + p.ID)
		v := rig.Move{
			From:    r.position(p, m.Need("from", "a position of "+p.ID)),
			To:      r.position(p, m.Need("to", "a position of "+p.ID)),
			Minutes: m.Need("minutes", "0.5").Number(yamlread.NotNegative),
			Elapsed: m.May("elapsed").Number(yamlread.NotNegative),
			Say:     m.Need("say", "the line on the hook-up list").Text(),
		}
		if v.From == v.To && len(p.Positions) > 1 && m.May("from").Present() && v.From >= 0 {
			m.Add("the move leads from a position to itself", "two different positions")
		}
		for _, c := range m.May("cautions").List() {
			v.Cautions = append(v.Cautions, c.Ref("caution"))
		}
		for _, c := range m.May("needs").List() {
			v.Needs = append(v.Needs, r.need(c))
		}
		m.Done()
		out = append(out, v)
	}
	return out
}

// position finds a position of a place by its id; -1 when it is not one, which
// is noted.
func (r *reader) position(p *rig.Place, n yamlread.Node) int {
	id := n.Text()
	if id == "" {
		return -1
	}
	known := make([]string, len(p.Positions))
	for i, q := range p.Positions {
		if q.ID == id {
			return i
		}
		known[i] = q.ID
	}
	n.Add("place "+p.ID+" has no position "+id, yamlread.Suggest(id, known))
	return -1
}

// place finds a place by its id; -1 when there is none, which is noted.
func (r *reader) place(id string, at yamlread.Pos) int {
	known := make([]string, len(r.s.Rig.Places))
	for i, p := range r.s.Rig.Places {
		if p.ID == id {
			return i
		}
		known[i] = p.ID
	}
	r.f.Add(at, "no place is called "+id, yamlread.Suggest(id, known))
	return -1
}

// stands reads one or several positions of a place.
func (r *reader) stands(place int, n yamlread.Node) []int {
	var out []int
	for _, item := range n.Items() {
		if at := r.position(&r.s.Rig.Places[place], item); at >= 0 {
			out = append(out, at)
		}
	}
	return out
}

// need reads what must hold before a move.
func (r *reader) need(n yamlread.Node) rig.Cond {
	m := n.Map("condition")
	where, in := m.Need("place", "the id of a place"), m.Need("in", "[position]")
	c := rig.Cond{
		Rule: m.Need("rule", "R7").Text(),
		Why:  m.Need("why", "the words shown on refusal").Text(),
	}
	if id := where.Text(); id != "" {
		c.Place = r.place(id, where.Pos())
		if c.Place >= 0 {
			c.Positions = r.stands(c.Place, in)
		}
	}
	m.Done()
	return c
}

// never reads the states that may not exist.
func (r *reader) never(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("never")
		v := rig.Never{
			Rule: m.Need("rule", "R4").Text(),
			Why:  m.Need("why", "the words shown on refusal").Text(),
		}
		when := m.Need("when", "{place: [position, …], …}").Map("when")
		for _, p := range when.Pairs() {
			if i := r.place(p.Key, p.At); i >= 0 {
				v.When = append(v.When, rig.Cond{Place: i, Positions: r.stands(i, p.Value)})
			}
		}
		if when.Present() && len(when.Pairs()) == 0 {
			when.Add("forbids nothing", "{place: [position, …]}")
		}
		m.Done()
		r.s.Rig.Never = append(r.s.Rig.Never, v)
	}
}

// rig compiles the places once everything in the file is in order, and hands on
// what the rig itself has to say against them.
func (r *reader) rig(top yamlread.Node) {
	if len(r.f.Problems()) > 0 {
		return
	}
	compiled, err := rig.New(r.s.Rig.Places, r.s.Rig.Never, 0)
	if err == nil {
		r.s.Rig = *compiled
		return
	}
	at := top.Map("system").May("places").Pos()
	all := []error{err}
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		all = joined.Unwrap()
	}
	for _, e := range all {
		what, instead := e.Error(), "a description without this"
		if i := strings.LastIndex(what, "; "); i > 0 { // the rig names the cure last
			what, instead = what[:i], what[i+2:]
		}
		r.f.Add(at, "places: "+what, instead)
	}
}
