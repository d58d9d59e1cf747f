package drawing

import (
	"math"

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

// tag names a lead beside its probe, or further off with a stem; false where
// there is no room.
func (o *overlay) tag(c Cable) bool {
	text := marked(c.Kind, c.Mark)
	w, h := TextWidth(text, o.s.size, true)+12, o.s.size*1.42
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
	l := Label{Kind: Tag, Of: c.Of, Text: text, Size: o.s.size}
	return o.put(l, w, h, spots, body, LeadText) || o.put(l, w, h, ring(c.Line[0].box(6), 90, o.farthest(), 6, w, h), body, LeadText)
}

// farthest is how far off something may stand that must stand somewhere.
func (o *overlay) farthest() float64 { return max(o.sc.W, o.sc.H) }

// put places a boxed word and draws it; false where it finds no room.
func (o *overlay) put(l Label, w, h float64, spots []spot, body, text Class) bool {
	best, ok := o.f.best(w, h, spots)
	if !ok {
		return false
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
	return true
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
		spots := stemmed(ring(at, 6, 120, 5, w, h), at)
		restore := o.near(at)
		l := Label{Kind: Flag, Of: o.s.sys.Rig.Places[i].ID, Text: text, Size: o.s.size}
		o.insist(at.mid(), func() bool { return o.put(l, w, h, spots, FlagBox, FlagText) })
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

// device is the room of a symbol that is no element's, where most of it is seen:
// a view's edge may cut it.
func (o *overlay) device(kind string) (best Rect, ok bool) {
	for _, m := range o.sc.Symbols {
		if m.Kind == kind && o.whole(m.Box) && m.Box.w()*m.Box.h() > best.w()*best.h() {
			best, ok = m.Box, true
		}
	}
	return best, ok
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
