package drawing

import (
	"math"
)

// A clamp meter: its jaws round the wire, its body to one side of it.
const (
	clampAlong = 10.0
	clampJaw   = 12.0
	clampReach = 44.0
)

// clamp draws a clamp meter round a wire, with the arrow of its positive way.
func (o *overlay) clamp(c Clamp) {
	r := o.runOf(c.Element)
	if r == nil {
		return
	}
	type place struct {
		p    pen
		side float64
		cost float64
	}
	best := place{cost: math.Inf(1)}
	legs(r.line, func(a, b, d Pt, n float64) {
		for s := clampAlong + 2.0; s <= n-clampAlong-2; s += 2 {
			at := a.along(d, s)
			if at.far(r.mid) < r.half+13 && shapes[r.route.Symbol].along > 0 || r.sw != nil && at.far(*r.sw) < 26 {
				continue
			}
			for _, side := range []float64{1, -1} {
				p := pen{at, d}
				cost := 0.2*math.Abs(s-n/2) + o.clampCost(p, side)
				if cost < best.cost {
					best = place{p, side, cost}
				}
			}
		}
	})
	if math.IsInf(best.cost, 1) {
		mid, dir, _ := longest(r.line)
		best = place{pen{mid, dir}, 1, 0}
	}
	o.drawClamp(c, best.p, best.side)
}

func clampBox(p pen, side float64) Rect {
	return around(p.at(-clampAlong, -side*clampJaw), p.at(clampAlong, side*clampReach))
}

// clampCost is what it covers: boxes, and wires under its body.
func (o *overlay) clampCost(p pen, side float64) float64 {
	box, cost := clampBox(p, side), 0.0
	for _, t := range o.f.boxes {
		if t.box.touches(box) {
			cost += 300
		}
	}
	body := around(p.at(-clampAlong, side*clampJaw), p.at(clampAlong, side*clampReach))
	for _, l := range o.f.lines {
		if body.crosses(l.a, l.b) {
			cost += 40
		}
	}
	if !box.in(o.f.bounds) {
		cost += 5000
	}
	return cost
}

func (o *overlay) drawClamp(c Clamp, p pen, side float64) {
	g := o.sc.group("cables")
	body := around(p.at(-clampAlong, side*clampJaw), p.at(clampAlong, side*clampReach))
	a := side * (clampJaw + 9)
	g.add(
		Item{Class: Halo, Path: p.oval(clampAlong-1.5, clampJaw-1)}, Item{Class: ClampJaw, Path: p.oval(clampAlong-1.5, clampJaw-1), Of: c.Element},
		Item{Class: MeterBox, Path: rect(body)},
		Item{Class: ArrowLine, Path: p.lines(-7.5, a, 3, a)},
		Item{Class: ArrowHead, Path: p.head(8, a, Pt{1, 0}, 8)},
		Item{Class: Caps, Text: "A", At: p.at(0, side*(clampReach-11)).add(Pt{0, 0.36 * smallest}), Size: smallest, Align: Middle},
	)
	box := clampBox(p, side)
	o.f.take(box)
	o.sc.Symbols = append(o.sc.Symbols, Mark{"clamp", c.Element, box})
}

func (o *overlay) runOf(element string) *run {
	for i := range o.runs {
		if o.runs[i].e.ID == element {
			return &o.runs[i]
		}
	}
	return nil
}
