package drawing

import (
	"math"
	"slices"

	"chargewright/question"
	"chargewright/system"
)

// overlay is what a hook-up adds to a sheet, while it is being placed.
type overlay struct {
	s  *Sheet
	sc *Scene
	h  *hookup
	f  *field
	o  Options

	at     map[string]Pt // points, as they lie on this picture
	runs   []run
	rails  []rail
	labels []placed // of the sheet, which may have to give way
	views  []*view
	dots   []Pt // the ring
}

// words of a quantity on the meter's box.
var quantityWords = map[question.Kind]string{
	question.Volts: "DC volts", question.ACVolts: "AC volts", question.Ohms: "ohms",
}

// meter draws the meter and its two leads.
func (o *overlay) meter(l Lead) {
	red, black := o.at[l.Red], o.at[l.Black]
	note := quantityWords[l.Quantity]
	if note == "" {
		note = string(l.Quantity)
	}
	size := o.s.size
	w := max(TextWidth("meter", size, true), TextWidth(note, size, false)) + 16
	h := 2*size*leading + 10
	places := o.f.meterAt(w, h, []Pt{red, black})
	if len(places) == 0 { // no room at all: the box stands over the circuit
		places = []Pt{o.f.bounds.mid()}
	}
	var best [2]reached
	at, cost := Pt{}, math.Inf(1)
	for _, p := range places {
		for _, first := range []int{0, 1} {
			if r := o.leadsFrom(p.sized(w, h), red, black, first); r[0].cost+r[1].cost < cost {
				best, at, cost = r, p, r[0].cost+r[1].cost
			}
		}
	}
	box := at.sized(w, h)
	o.lead("black", l.Black, best[1].e, best[1].line)
	o.lead("red", l.Red, best[0].e, best[0].line)
	g := o.sc.group("cables")
	g.add(Item{Class: MeterBox, Path: rect(box), Of: "meter"})
	g.add(Item{Class: MeterText, Text: "meter", At: Pt{at.X, box.Y0 + 5 + size*ascent}, Size: size, Align: Middle},
		Item{Class: NoteText, Text: note, At: Pt{at.X, box.Y0 + 5 + size*(ascent+leading)}, Size: size, Align: Middle})
	o.sc.Symbols = append(o.sc.Symbols, Mark{"meter", "", box})
	o.f.take(box)
}

// reached is a lead from the meter to a point.
type reached struct {
	e    end
	line []Pt
	cost float64
}

// leadsFrom finds both leads of a meter that stands in a box: one first (0 = the
// red one), the other around it.
func (o *overlay) leadsFrom(box Rect, red, black Pt, first int) [2]reached {
	f := *o.f
	f.boxes = append(slices.Clone(f.boxes), taken{box: box.grown(-4)})
	f.cables = slices.Clone(f.cables)
	free := ports(box)
	var out [2]reached
	other := [2]Pt{black, red}
	for _, k := range []int{first, 1 - first} {
		tip := [2]Pt{red, black}[k]
		g := f
		g.boxes = append(slices.Clone(f.boxes), taken{box: other[k].box(9), mark: true})
		t := g.terrain(leadHalf)
		ends := g.approaches(t, []Pt{tip}, probeTail, probeHalf)
		line, a, b := t.way(ends, free)
		if line == nil {
			ends, free = []end{{tip: tip, tail: tip}}, ports(box)
			line, a, b = t.way(ends, free)
		}
		cost := ends[a].cost
		for i := 1; i < len(line); i++ {
			cost += t.along(line[i-1], line[i])
		}
		line = append(line[1:], free[b].tip)
		out[k] = reached{ends[a], line, cost}
		f.cables = append(f.cables, append([]Pt{tip, ends[a].tail}, line...))
		free = slices.Delete(slices.Clone(free), b, b+1)
	}
	return out
}

// tag names a lead beside its probe.
func (o *overlay) tag(c Cable) {
	w, h := TextWidth(c.Kind, o.s.size, true)+12, o.s.size*1.42
	var spots []spot
	d := c.Line[1].sub(c.Line[0]).unit()
	n := d.turned()
	for k := 8.0; k <= 60; k += 4 {
		for _, side := range []float64{1, -1} {
			reach := math.Abs(n.X)*w/2 + math.Abs(n.Y)*h/2 + probeHalf + 3
			spots = append(spots, spot{mid: c.Line[0].along(d, k).along(n, side*reach), cost: 0.3 * math.Abs(k-24)})
		}
	}
	run := 0.0
	legs(c.Line, func(a, _, d Pt, length float64) {
		for s := 0.0; s < length; s += 8 {
			for _, side := range []float64{1, -1} {
				n := d.turned().times(side)
				reach := math.Abs(n.X)*w/2 + math.Abs(n.Y)*h/2 + leadHalf + 4
				spots = append(spots, spot{mid: a.along(d, s).along(n, reach), cost: 8 + 0.2*(run+s)})
			}
		}
		run += length
	})
	spots = append(spots, ring(c.Line[0].box(6), 6, 90, 6, w, h)...)
	body := RedBody
	if c.Kind == "black" {
		body = BlackBody
	}
	o.put(Label{Kind: Tag, Of: c.Of, Text: c.Kind, Size: o.s.size}, w, h, spots, body, LeadText)
}

// put places a boxed word and draws it.
func (o *overlay) put(l Label, w, h float64, spots []spot, body, text Class) {
	best, ok := o.f.best(w, h, spots)
	if !ok {
		return
	}
	l.Box = best.mid.sized(w, h)
	o.f.take(l.Box)
	g := o.sc.group("marks")
	if best.stem {
		stem := best.stemTo(l.Box)
		g.add(Item{Class: Stem, Path: lines(stem...)})
		o.f.line(stem, 1, false)
	}
	g.add(Item{Class: body, Path: rect(l.Box), Of: l.Of},
		Item{Class: text, Text: l.Text, At: Pt{best.mid.X, best.mid.Y + 0.36*l.Size}, Size: l.Size, Align: Middle})
	o.sc.Labels = append(o.sc.Labels, l)
}

// flags says what is off, one flag for each place.
func (o *overlay) flags() {
	for i := range o.s.sys.Rig.Places {
		text := o.h.flag(i)
		if text == "" {
			continue
		}
		at, ok := o.placeBox(i)
		if !ok {
			continue
		}
		w, h := TextWidth(text, o.s.size, true)+12, o.s.size*1.42
		spots := ring(at, 6, 120, 5, w, h)
		for k := range spots {
			spots[k].stem, spots[k].near = true, at
		}
		restore := o.near(at)
		o.put(Label{Kind: Flag, Of: o.s.sys.Rig.Places[i].ID, Text: text, Size: o.s.size}, w, h, spots, FlagBox, FlagText)
		restore()
	}
}

// placeBox is the room of what a place moves; false where the drawing does not
// show it.
func (o *overlay) placeBox(i int) (Rect, bool) {
	place := o.s.sys.Rig.Places[i]
	switch place.Role {
	case "engine", "brake", "exhaust":
		if flag := o.h.flag(i); flag == "" {
			return Rect{}, false
		}
	case "belt":
		return o.device("belt")
	case "bench":
		return o.device("rectifier")
	case "load-bank", "watch-meter":
		return o.device(clipKind[place.Role])
	case "clamp":
		return o.device("clamp")
	}
	var boxes []Rect
	for _, q := range place.Positions {
		for _, set := range q.Sets {
			if e := element(o.s.sys, set.Element); e != nil {
				if _, open := o.h.open[e.ID]; place.Role == "engine" && !open {
					continue
				}
				if b, ok := o.elementBox(e); ok {
					boxes = append(boxes, b)
				}
			}
		}
	}
	return nearOnes(boxes)
}

var clipKind = map[string]string{"load-bank": loadTester, "watch-meter": watchMeter}

// nearOnes joins boxes that lie together; what lies further off is left out.
func nearOnes(boxes []Rect) (Rect, bool) {
	if len(boxes) == 0 {
		return Rect{}, false
	}
	all := boxes[0]
	for _, b := range boxes[1:] {
		if j := all.joined(b); j.w() < 130 && j.h() < 130 {
			all = j
		}
	}
	return all, true
}

// device is the room of a symbol that is no element's, where it is seen whole.
func (o *overlay) device(kind string) (Rect, bool) {
	for _, m := range o.sc.Symbols {
		if m.Kind == kind && o.whole(m.Box) {
			return m.Box, true
		}
	}
	return Rect{}, false
}

// whole says whether one view shows all of a box.
func (o *overlay) whole(b Rect) bool {
	_, ok := o.viewOf(b)
	return ok || len(o.views) == 0
}

// viewOf is the part of the picture in which a box is seen whole.
func (o *overlay) viewOf(b Rect) (Rect, bool) {
	for _, v := range o.views {
		if seen := v.window.moved(v.by); b.in(seen) {
			return seen, true
		}
	}
	return Rect{}, false
}

// near limits what is placed to the view that shows what it names, until the
// returned function is called.
func (o *overlay) near(b Rect) func() {
	was := o.f.bounds
	if seen, ok := o.viewOf(b); ok && len(o.views) > 1 {
		o.f.bounds = seen
	}
	return func() { o.f.bounds = was }
}

// elementBox is the room of an element's symbol, or of the middle of its line,
// where a view shows it whole.
func (o *overlay) elementBox(e *system.Element) (Rect, bool) {
	box, ok := o.symbolBox(e)
	return box, ok && o.whole(box)
}

func (o *overlay) symbolBox(e *system.Element) (Rect, bool) {
	if e.Kind == system.Gap {
		at, ok := o.at[e.From]
		return at.box(8), ok
	}
	r := o.runOf(e.ID)
	switch {
	case r == nil:
		return Rect{}, false
	case r.sw != nil:
		return r.sw.box(10), true
	}
	if sh := shapes[r.route.Symbol]; sh.along > 0 {
		return sh.box(r.mid, r.dir), true
	}
	return r.mid.box(4), true
}
