package drawing

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"chargewright/system"
)

// placed is a label with what is drawn of it.
type placed struct {
	Label
	lines []string
	stem  []Pt
	near  Rect    // the room of what it names
	name  *naming // nil = a number
}

// Of a number [px]: its disc, and how far it may stand from its point.
const (
	numberRadius = 10.5
	numberFar    = 70.0
)

// ground is the field of the circuit itself: symbols, points, wires. Room for
// what is clipped on is taken where it is on; with nil, always.
func (s *Sheet) ground(clipped func(kind string) bool) *field {
	f := &field{bounds: s.bounds}
	for _, m := range s.marks {
		f.mark(m.box)
	}
	for _, p := range s.at {
		f.mark(p.box(dotHalf))
	}
	for _, r := range s.runs {
		f.line(r.line, 2.5, false)
	}
	for _, r := range s.rails {
		f.line([]Pt{r.a, r.b}, 4.5, false)
	}
	for _, l := range s.deviceLines() {
		f.line(l, 1.5, false)
	}
	for _, e := range s.edges {
		f.line(e, 1, true)
	}
	for _, p := range s.plants() {
		f.line(outline(p.regulator), 1.5, false)
	}
	for _, c := range s.clips() {
		if clipped == nil || clipped(c.kind) {
			f.line(c.line, 1.5, false)
			f.mark(c.box)
		}
	}
	return f
}

// deviceLines are lines that belong to no element.
func (s *Sheet) deviceLines() [][]Pt {
	out := s.pinLines()
	for _, c := range s.accumulators() {
		out = append(out, []Pt{c.a, c.b})
	}
	if coil, contacts, ok := s.relayEnds(); ok {
		out = append(out, coil[:], contacts[:])
	}
	if plate, ends, ok := s.splitterEnds(); ok {
		out = append(out, []Pt{plate, ends[0]}, []Pt{plate, ends[1]})
	}
	for _, x := range s.plants() {
		ra, rb := s.rotorEnds(x)
		out = append(out, []Pt{ra, rb})
		bridge := s.bridgeBox(x)
		for _, p := range []string{x.Machine.Output, x.Machine.Case} {
			out = append(out, []Pt{s.at[p], bridge.nearest(s.at[p])})
		}
	}
	return out
}

// pinLines join the regulator to pins that do not stand on its edge.
func (s *Sheet) pinLines() (out [][]Pt) {
	for _, p := range s.plants() {
		out = append(out, s.pinsOf(p.regulator, p.Regulator)...)
	}
	return out
}

// pinsOf are those of one regulator.
func (s *Sheet) pinsOf(b Rect, g *system.Regulator) [][]Pt {
	var out [][]Pt
	for _, p := range []string{g.Supply, g.Field, g.Case} {
		at := s.at[p]
		if b.grown(1).has(at) && !b.grown(-1).has(at) {
			continue
		}
		corner := Pt{b.mid().X, at.Y}
		if at.Y >= b.Y0 && at.Y <= b.Y1 {
			corner = at
		}
		out = append(out, []Pt{at, corner, b.nearest(corner)})
	}
	return out
}

// clip is something clipped across two points.
type clip struct {
	kind string
	line []Pt
	mid  Pt
	dir  Pt
	box  Rect
}

// clips are where load tester and watch meter go.
func (s *Sheet) clips() []clip {
	var out []clip
	add := func(kind string, plus, minus string, at *Pt, sh shape) {
		if at == nil || plus == "" {
			return
		}
		c := clip{kind: kind, mid: *at}
		c.line, c.dir = across(s.at[plus], s.at[minus], c.mid)
		c.box = sh.box(c.mid, c.dir)
		out = append(out, c)
	}
	add(loadTester, s.sys.Bank.Plus, s.sys.Bank.Minus, s.bank, shape{along: 28, across: 28})
	add(watchMeter, s.sys.Battery.Positive, s.sys.Battery.Negative, s.watch, shape{along: 2 * discRadius, across: 2 * discRadius})
	return out
}

// nameAll places the numbers and names of the sheet; false where a number finds
// no room.
func (s *Sheet) nameAll() (ok bool) {
	s.labels, ok = s.label(s.ground(nil), s.bounds, nil, nil)
	return ok
}

// label places the numbers and names of what lies in a window; false where a
// number finds no room. In a close-up only the points of the step must have one.
func (s *Sheet) label(f *field, window Rect, home, must map[string]bool) ([]placed, bool) {
	var out []placed
	keep := func(l placed) {
		f.take(l.Box)
		if l.stem != nil {
			f.line(l.stem, 1, false)
		}
		out = append(out, l)
	}
	for _, p := range s.sys.Points {
		aside := must != nil && !must[p.ID]
		if p.Number == 0 || home != nil && !home[p.ID] || aside && !window.grown(-12).has(s.at[p.ID]) {
			continue
		}
		l, ok := s.number(f, p)
		ok = ok && !(aside && l.stem != nil)
		switch {
		case ok:
			keep(l)
		case !aside:
			return nil, false
		}
	}
	for _, n := range s.names() {
		if must != nil && !n.shownIn(window) {
			continue
		}
		if l, ok := n.place(f, s.size); ok {
			keep(l)
		}
	}
	return out, true
}

// shownIn says whether enough of what a name stands for is seen in a close-up.
func (n *naming) shownIn(window Rect) bool {
	n.far = false
	if n.line == nil {
		return n.at.in(window) || n.inside && window.touches(n.at) && n.at.mid().sized(20, 20).in(window)
	}
	var seen []Pt
	for i := 1; i < len(n.line); i++ {
		if a, b, ok := window.clip(n.line[i-1], n.line[i]); ok {
			seen = append(seen, a, b)
		}
	}
	n.line = seen
	return len(seen) == 2 && seen[0].far(seen[1]) > 90
}

// sideDir is where a side lies on a sheet in the plan's lie.
var sideDir = map[system.Side]Pt{
	system.Above: {0, -1}, system.Below: {0, 1}, system.Left: {-1, 0}, system.Right: {1, 0},
	system.AboveLeft: {-0.95, -0.95}, system.AboveRight: {0.95, -0.95},
	system.BelowLeft: {-0.95, 0.95}, system.BelowRight: {0.95, 0.95},
}

func (s *Sheet) number(f *field, p system.Point) (placed, bool) {
	return s.numberAt(f, s.at[p.ID], Label{Kind: Number, Of: p.ID, Text: strconv.Itoa(p.Number), Size: smallest}, numberFar)
}

// radiusOf is the radius of a number's disc [px]: three digits want a larger one.
func radiusOf(number string) float64 {
	if len(number) > 2 {
		return numberRadius + 3
	}
	return numberRadius
}

// numberAt places a point's number: on the side that the plan gives, else on
// another, else off with a stem, no further than far.
func (s *Sheet) numberAt(f *field, at Pt, label Label, far float64) (placed, bool) {
	r := radiusOf(label.Text)
	off := dotHalf + r + 4
	var spots []spot
	for side, d := range sideDir {
		cost := 6.0
		if d.X != 0 && d.Y != 0 {
			cost = 9
		}
		if s.plan.Sides[label.Of] == side {
			cost = 0
		}
		if s.upright {
			d.X, d.Y = d.Y, d.X
		}
		spots = append(spots, spot{mid: at.along(d, off), cost: cost + 0.1*d.X + 0.05*d.Y})
	}
	spots = append(spots, ring(at.box(dotHalf), 3, far, 4, 2*r, 2*r)...)
	l := placed{Label: label, near: at.box(dotHalf)}
	f.overEdges = true // a number's disc covers a boundary
	best, ok := f.best(2*r, 2*r, spots)
	f.overEdges = false
	if !ok {
		return l, false
	}
	l.Box = best.mid.box(r)
	if best.stem {
		l.stem = []Pt{at, best.mid.to(at, r/max(1, best.mid.far(at)))}
	}
	return l, true
}

// naming is a name that wants a place.
type naming struct {
	of, text string
	at       Rect      // what it names
	also     *Rect     // or this part of it
	inside   bool      // stands within it
	line     []Pt      // stands along it
	prefer   []float64 // shares of the line where it would like to stand
	far      bool      // may stand off, with a stem
	least    bool      // rather left out than far off
	must     bool      // never left out
}

// names lists what is written on the sheet, the hardest to place first.
func (s *Sheet) names() []naming {
	var out []naming
	for _, p := range s.plants() {
		out = append(out, naming{of: p.prefix + "regulator", text: "regulator", at: p.regulator, inside: true})
	}
	for i := range s.runs {
		r := &s.runs[i]
		if r.route.Name == "" {
			continue
		}
		box := shapes[r.route.Symbol].box(r.mid, r.dir)
		if shapes[r.route.Symbol].along == 0 {
			box = r.mid.box(3)
		}
		n := naming{of: r.e.ID, text: r.route.Name, at: box, far: true}
		if r.sw != nil {
			n.also = &Rect{}
			*n.also = r.sw.box(switchHalf)
		}
		out = append(out, n)
	}
	if b, ok := s.find("belt"); ok {
		out = append(out, naming{of: "belt", text: "belt", at: b})
	}
	for _, p := range s.plants() {
		out = append(out, naming{of: p.prefix + "alternator", text: p.prefix + "alternator", at: p.machine, inside: true})
	}
	for _, r := range s.rails {
		out = append(out, naming{of: r.point, text: r.name, line: []Pt{r.a, r.b}, prefer: []float64{0.5, 0.3, 0.7}})
	}
	for i, o := range s.plan.Outlines {
		out = append(out, naming{of: o.Name, text: o.Name, line: s.edges[i], prefer: []float64{0.2, 0.9, 0.5}})
	}
	return slices.DeleteFunc(out, func(n naming) bool { return n.text == "" })
}

// wraps are the ways to set a name: in one line, two or three.
func wraps(text string) [][]string {
	words := strings.Fields(text)
	out := [][]string{{strings.Join(words, " ")}}
	for k := 1; k < len(words); k++ {
		out = append(out, []string{strings.Join(words[:k], " "), strings.Join(words[k:], " ")})
	}
	if len(words) == 3 {
		out = append(out, words)
	}
	return out
}

// blockSize is the room of some lines of words.
func blockSize(lines []string, size float64, bold bool) (w, h float64) {
	for _, l := range lines {
		w = max(w, TextWidth(l, size, bold))
	}
	return w, size * (ascent + descent + leading*float64(len(lines)-1))
}

func (n naming) place(f *field, size float64) (placed, bool) {
	best, lines := spot{cost: math.Inf(1)}, []string(nil)
	for k, ls := range wraps(n.text) {
		w, h := blockSize(ls, size, false)
		spots := n.spots(w, h)
		for i := range spots {
			spots[i].cost += 2 * float64(k)
		}
		if s, ok := f.best(w, h, spots); ok && s.cost < best.cost {
			best, lines = s, ls
		}
	}
	switch {
	case n.must && best.cost >= ofWire:
		return n.anywhere(f, size)
	case best.cost >= ofWire, n.least && best.cost > 110: // worse than none
		return placed{}, false
	}
	w, h := blockSize(lines, size, false)
	l := placed{Label: Label{Kind: Name, Of: n.of, Text: n.text, Box: best.mid.sized(w, h), Size: size}, lines: lines, near: n.at, name: &n}
	if best.stem {
		l.stem = best.stemTo(l.Box)
	}
	return l, true
}

// anywhere places a name that must stand, as far off as it takes.
func (n naming) anywhere(f *field, size float64) (placed, bool) {
	lines := []string{n.text}
	w, h := blockSize(lines, size, false)
	best, ok := f.best(w, h, ring(n.at, 5, max(f.bounds.w(), f.bounds.h()), 5, w, h))
	l := placed{Label: Label{Kind: Name, Of: n.of, Text: n.text, Box: best.mid.sized(w, h), Size: size}, lines: lines, near: n.at, name: &n}
	if ok && best.stem {
		l.stem = best.stemTo(l.Box)
	}
	return l, ok
}

func (n naming) spots(w, h float64) []spot {
	switch {
	case n.inside:
		return n.within(w, h)
	case n.line != nil:
		return n.beside(w, h)
	}
	out := n.around(n.at, 0, w, h)
	if n.also != nil {
		out = append(out, n.around(*n.also, 3, w, h)...)
	}
	if n.far {
		out = append(out, ring(n.at, 5, 60, 5, w, h)...)
	}
	return out
}

// around tries the four sides of a box, then its corners.
func (n naming) around(at Rect, cost, w, h float64) []spot {
	const off = 5
	c := at.mid()
	var out []spot
	for _, k := range []float64{0, 0.25, -0.25, 0.5, -0.5, 0.75, -0.75, 1, -1} { // shifted along the side
		dx, dy := k*(at.w()+w)/2, k*(at.h()+h)/2
		cost := cost + 14*math.Abs(k)
		out = append(out,
			spot{mid: Pt{at.X1 + off + w/2, c.Y + dy}, cost: cost},
			spot{mid: Pt{at.X0 - off - w/2, c.Y + dy}, cost: cost + 1},
			spot{mid: Pt{c.X + dx, at.Y0 - off - h/2}, cost: cost + 2},
			spot{mid: Pt{c.X + dx, at.Y1 + off + h/2}, cost: cost + 3},
		)
	}
	return out
}

// within tries the inside of a box, from its middle outwards, then its rim.
func (n naming) within(w, h float64) []spot {
	var out []spot
	c := n.at.mid()
	for y := n.at.Y0 + h/2 + 3; y <= n.at.Y1-h/2-3; y += 3 {
		for x := n.at.X0 + w/2 + 4; x <= n.at.X1-w/2-4; x += 4 {
			out = append(out, spot{mid: Pt{x, y}, cost: 0.2 * c.far(Pt{x, y})})
		}
	}
	for x := n.at.X0 + w/2; x <= n.at.X1-w/2; x += 6 {
		out = append(out,
			spot{mid: Pt{x, n.at.Y0 - 4 - h/2}, cost: 30 + 0.05*(n.at.X1-x)},
			spot{mid: Pt{x, n.at.Y1 + 4 + h/2}, cost: 32 + 0.05*(n.at.X1-x)})
	}
	for y := n.at.Y0 + h/2; y <= n.at.Y1-h/2; y += 6 {
		out = append(out,
			spot{mid: Pt{n.at.X1 + 5 + w/2, y}, cost: 34},
			spot{mid: Pt{n.at.X0 - 5 - w/2, y}, cost: 36})
	}
	return out
}

// beside tries both sides of a line, all along it.
func (n naming) beside(w, h float64) []spot {
	var out []spot
	legs(n.line, func(a, _, d Pt, length float64) {
		q := d.turned()
		off := math.Abs(q.X)*w/2 + math.Abs(q.Y)*h/2 + 8
		for t := 0.0; t <= length; t += 6 {
			cost := math.Inf(1)
			for k, p := range n.prefer {
				cost = min(cost, float64(k)+0.1*math.Abs(t-p*length))
			}
			mid := a.along(d, t)
			out = append(out, spot{mid: mid.along(q, off), cost: cost}, spot{mid: mid.along(q, -off), cost: cost + 2})
		}
		over := math.Abs(d.X)*w/2 + math.Abs(d.Y)*h/2 + 8 // beyond its ends
		out = append(out, spot{mid: a.along(d, -over), cost: 20}, spot{mid: a.along(d, length+over), cost: 18})
	})
	return out
}
