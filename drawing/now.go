package drawing

import (
	"math"
)

// ring dots a ring around where hands or eyes go now; a long lead has one at
// each of its ends. The first carries the number of the hook-up's line.
func (o *overlay) ring() {
	n := o.o.Now
	if n == nil {
		return
	}
	for k, box := range o.nowBoxes() {
		rx, ry := o.dotted(box)
		if k == 0 && n.Stage > 0 {
			o.stage(n.Stage, box.mid(), rx, ry)
		}
	}
	o.f.line(o.dots, 2, true) // words keep off it
}

// dotted draws a ring around a box.
func (o *overlay) dotted(box Rect) (rx, ry float64) {
	c := box.mid()
	rx = max(20, box.w()/2+9)
	ry = max(20, box.h()/2+9)
	if box.w() < 60 && box.h() < 60 {
		rx = max(20, math.Hypot(box.w(), box.h())/2+7)
		ry = rx
	}
	room := o.f.bounds.grown(-3) // at the sheet's edge it is drawn smaller
	rx = max(8, min(rx, c.X-room.X0, room.X1-c.X))
	ry = max(8, min(ry, c.Y-room.Y0, room.Y1-c.Y))
	o.sc.group("rings").add(Item{Class: NowRing, Path: ellipse(c, rx, ry), Of: "now"})
	for k := range 25 {
		t := 2 * math.Pi * float64(k) / 24
		o.dots = append(o.dots, c.add(Pt{rx * math.Cos(t), ry * math.Sin(t)}))
	}
	return rx, ry
}

// stage puts the number of the line on the ring, or beside it.
func (o *overlay) stage(number int, c Pt, rx, ry float64) {
	const r = 11.5
	var spots []spot
	for k := range 36 {
		a := 2 * math.Pi * float64(k) / 36
		at := c.add(Pt{rx * math.Cos(a), ry * math.Sin(a)})
		spots = append(spots, spot{mid: at, cost: 0.1 * math.Abs(float64(k)-20)}, spot{mid: c.to(at, 1+r/max(rx, ry)), cost: 8})
	}
	spots = append(spots, ring(c.sized(2*rx, 2*ry), 3, 120, 6, 2*r, 2*r)...)
	best, ok := o.f.best(2*r, 2*r, spots)
	if !ok {
		return
	}
	if best.stem {
		o.sc.group("rings").add(Item{Class: Stem, Path: lines(best.stemTo(best.mid.box(r))...)})
	}
	l := Label{Kind: Stage, Of: "now", Text: itoa(number), Box: best.mid.box(r), Size: smallest}
	o.f.take(l.Box)
	o.sc.Labels = append(o.sc.Labels, l)
	o.sc.group("marks").add(Item{Class: NowDisc, Path: circle(best.mid, r-0.5)},
		Item{Class: NowText, Text: l.Text, At: best.mid.add(Pt{0, 0.355 * smallest}), Size: smallest, Align: Middle})
}

// longLead is how long a lead is from which its ends are ringed and not it [px].
const longLead = 150.0

func (o *overlay) nowBoxes() []Rect {
	n := o.o.Now
	for _, c := range o.sc.Cables {
		g := o.h.gaps[c.Of]
		if c.Kind != "jumper" || g.place != o.s.place(n.Place) {
			continue
		}
		if all := around(c.Line...); all.w() < longLead && all.h() < longLead {
			return []Rect{all}
		}
		return []Rect{c.Line[0].box(12), c.Line[len(c.Line)-1].box(12)}
	}
	if box, ok := o.nowBox(); ok {
		return []Rect{box}
	}
	return nil
}

func (o *overlay) nowBox() (Rect, bool) {
	n := o.o.Now
	switch {
	case n.Point != "":
		at, ok := o.at[n.Point]
		return at.box(6), ok
	case n.Element != "":
		return o.elementBox(element(o.s.sys, n.Element))
	}
	return o.placeBox(o.s.place(n.Place))
}
