package system

import (
	"fmt"
	"strconv"

	"chargewright/internal/yamlread"
)

// drawing reads the optional section that says where things stand.
func (r *reader) drawing(m *yamlread.Map) {
	if !m.Present() {
		return
	}
	d := &Drawing{Sides: map[string]Side{}}
	r.s.Drawing = d
	size, ok := r.xy(m.Need("sheet", "[100, 66]"), "the sheet", "sheet: [width, height]")
	d.Width, d.Height = size.X, size.Y
	if ok && (d.Width <= 0 || d.Height <= 0) {
		m.Add("the sheet must have a width and a height above 0", "sheet: [100, 66]")
	}
	r.machineBox(m.Need("machine", "{from: [3, 34], to: [32, 54], bridge: [11, 44]}").Map("machine"), &d.Machine)
	regulator := m.Need("regulator", "{from: [56, 32], to: [69, 50]}").Map("regulator")
	d.Regulator = r.box(regulator)
	regulator.Done()
	r.secondBoxes(d, m)
	d.Bank, d.Watch, d.Belt = r.spot(m.May("bank")), r.spot(m.May("watch")), r.spot(m.May("belt"))
	for _, n := range m.May("outlines").List() {
		o := n.Map("outline")
		d.Outlines = append(d.Outlines, Outline{o.May("name").Text(), r.box(o)})
		o.Done()
	}
	r.rails(d, m.May("rails"))
	r.routes(d, m.May("routes"))
	r.sides(d, m.May("numbers").Map("numbers"))
	m.Done()
}

// machineBox reads an alternator's outline and where its rectifier stands.
func (r *reader) machineBox(m *yamlread.Map, x *MachineBox) {
	x.Box = r.box(m)
	x.Bridge = r.onSheet(m.Need("bridge", "[11, 44]"))
	m.Done()
}

// secondBoxes reads where a second machine and its regulator stand.
func (r *reader) secondBoxes(d *Drawing, m *yamlread.Map) {
	machine, regulator := m.May("second-machine"), m.May("second-regulator")
	for _, n := range []yamlread.Node{machine, regulator} {
		if n.Present() != r.s.Twin() {
			m.Add("second-machine and second-regulator stand on the drawing of a vehicle that has them", "both, for a vehicle with second-machine; else neither")
			break
		}
	}
	if machine.Present() {
		r.machineBox(machine.Map("second-machine"), &d.SecondMachine)
	}
	if regulator.Present() {
		box := regulator.Map("second-regulator")
		d.SecondRegulator = r.box(box)
		box.Done()
	}
}

// xy reads a pair of numbers.
func (r *reader) xy(n yamlread.Node, what, instead string) (XY, bool) {
	items := n.List()
	if !n.IsList() {
		return XY{}, false
	}
	if len(items) != 2 {
		if !n.Commas() {
			n.Add(what+" is two numbers", instead)
		}
		return XY{}, false
	}
	before := n.Problems()
	p := XY{items[0].Number(), items[1].Number()}
	return p, n.Problems() == before
}

// onSheet reads a place and holds it against the sheet.
func (r *reader) onSheet(n yamlread.Node) XY {
	p, ok := r.xy(n, "a place", "[x, y]")
	if ok && r.s.Drawing.off(p) {
		d := r.s.Drawing
		n.Add(fmt.Sprintf("%s lies off the sheet", written(p)), fmt.Sprintf("x from 0 to %g, y from 0 to %g", d.Width, d.Height))
	}
	return p
}

// off says whether a place lies off the sheet; off none where its size was not
// given.
func (d *Drawing) off(p XY) bool {
	return d.Width > 0 && d.Height > 0 && (p.X < 0 || p.Y < 0 || p.X > d.Width || p.Y > d.Height)
}

func written(p XY) string { return fmt.Sprintf("[%g, %g]", p.X, p.Y) }

func (r *reader) spot(n yamlread.Node) *XY {
	if !n.Present() {
		return nil
	}
	p := r.onSheet(n)
	return &p
}

func (r *reader) box(m *yamlread.Map) Box {
	return Box{r.onSheet(m.Need("from", "[x, y]")), r.onSheet(m.Need("to", "[x, y]"))}
}

func (r *reader) rails(d *Drawing, list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("rail")
		point := m.Need("point", "the point that the rail is")
		x := Rail{Point: point.Ref("point"), Name: m.May("name").Text(), Box: r.box(m)}
		if d.Rail(x.Point) != nil && x.Point != "" {
			point.Add("point "+x.Point+" is already a rail", "one rail for each point")
		}
		if x.From.X != x.To.X && x.From.Y != x.To.Y {
			m.Add("the rail slants", "from and to on one level, or one above the other")
		}
		m.Done()
		d.Rails = append(d.Rails, x)
	}
}

func (r *reader) routes(d *Drawing, list yamlread.Node) {
	r.routeAt = map[string]yamlread.Pos{}
	for _, n := range list.List() {
		m := n.Map("route")
		element := m.Need("element", "a joint, wire or load")
		x := Route{Element: element.Ref("element"), Name: m.May("name").Text()}
		if first, twice := r.routeAt[x.Element]; twice && x.Element != "" {
			element.Add("element "+x.Element+" has two routes, first in line "+strconv.Itoa(first.Line), "one route for each element")
		}
		r.routeAt[x.Element] = element.Pos()
		if s := m.May("symbol"); s.Present() {
			x.Symbol = Symbol(s.OneOf(symbols...))
		}
		for _, v := range m.May("via").List() {
			x.Via = append(x.Via, r.onSheet(v))
		}
		x.At, x.Switch = r.spot(m.May("at")), r.spot(m.May("switch"))
		frame := m.May("frame")
		x.Frame = frame.Yes()
		if x.Frame && len(x.Via) == 0 {
			frame.Add("a frame mark stands at the last corner, and there is none", "via: [[x, y]]")
		}
		m.Done()
		d.Routes = append(d.Routes, x)
	}
}

func (r *reader) sides(d *Drawing, m *yamlread.Map) {
	for _, side := range sides {
		for _, n := range m.May(side).List() {
			id := n.Ref("point")
			if other, twice := d.Sides[id]; twice && id != "" {
				n.Add("the number of "+id+" already stands "+string(other), "each point once")
			}
			d.Sides[id] = Side(side)
		}
	}
	m.Done()
}

// checkDrawing: everything that is drawn stands somewhere, by itself, and runs
// along the sheet's sides.
func (r *reader) checkDrawing() {
	d := r.s.Drawing
	if d == nil {
		return
	}
	places, first := map[string]XY{}, map[XY]string{}
	for _, p := range r.s.Points {
		at := XY{p.X, p.Y}
		places[p.ID] = at
		pos := r.ids["point"][p.ID]
		switch other, taken := first[at]; {
		case p.ID == "":
		case at == XY{}:
			r.f.Add(pos, "point "+p.ID+" stands nowhere on the drawing", "at: [x, y]")
		case taken:
			r.f.Add(pos, "point "+p.ID+" stands on top of "+other, "at: another place")
		case d.off(at):
			r.f.Add(pos, "point "+p.ID+" lies off the sheet", fmt.Sprintf("x from 0 to %g, y from 0 to %g", d.Width, d.Height))
		default:
			first[at] = p.ID
		}
	}
	if len(first) != len(r.s.Points) {
		return // what hangs on them has been said
	}
	for i := range r.s.Elements {
		if e := &r.s.Elements[i]; e.Kind != Gap && e.From != "" && e.To != "" {
			r.checkRoute(d, e, places)
		}
	}
}

// checkRoute: no leg of an element slants.
func (r *reader) checkRoute(d *Drawing, e *Element, places map[string]XY) {
	pos, listed := r.routeAt[e.ID]
	if !listed {
		pos = r.ids["element"][e.ID]
	}
	path := d.Path(e, places)
	for k := 1; k < len(path); k++ {
		if a, b := path[k-1], path[k]; a.X != b.X && a.Y != b.Y {
			r.f.Add(pos, e.ID+" slants on the drawing, from "+written(a)+" to "+written(b), "a route with a corner: via: ["+written(XY{b.X, a.Y})+"]")
			return
		}
	}
	if len(path) == 2 && path[0] == path[1] {
		r.f.Add(pos, e.ID+" has no length on the drawing", "its two points apart from each other")
	}
}
