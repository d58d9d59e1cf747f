package drawing

import "math"

// A probe lies straight on its last piece: tip, body, then the cable.
const (
	probeTip  = 3.0
	probeBody = 9.0
	probeTail = 32.0
	probeHalf = 5.0
	leadHalf  = 4.5
	clipTail  = 17.0
	clipHalf  = 4.0
	jumpHalf  = 2.5
)

// approaches are the ways to come to a point: a straight piece in each of
// sixteen directions, rated by what it covers.
func (f *field) approaches(t *terrain, tips []Pt, tail, half float64) []end {
	var out []end
	for _, tip := range tips {
		for k := range 16 {
			a := 2 * math.Pi * float64(k) / 16
			d := Pt{math.Cos(a), math.Sin(a)}
			e := end{tip: tip, tail: tip.along(d, tail)}
			if !e.tail.box(half + 2).in(f.bounds) {
				continue
			}
			e.cost = t.along(tip.along(d, 14), tip.along(d, tail+8))
			for _, b := range f.boxes {
				if !b.mark && e.over(b.box, half) {
					e.cost += 20 * overWords
				}
			}
			for _, l := range f.lines { // not along a wire
				if !l.weak && alongside(l, tip, d) {
					e.cost += 200
				}
			}
			for _, c := range f.cables {
				if e.box(half + 6).crossedBy(c) {
					e.cost += 150
				}
			}
			out = append(out, e)
		}
	}
	return out
}

// over says whether a probe, thin at its tip, would lie over a box.
func (e end) over(b Rect, half float64) bool {
	if !e.box(half + gap + 0.01).touches(b) {
		return false // most boxes, by far
	}
	d, n := e.tail.sub(e.tip).unit(), e.tip.far(e.tail)
	for k := 4.0; k <= n; k += 3 {
		if b.grown(1.5 + gap + (half-1.5)*k/n).has(e.tip.along(d, k)) {
			return true
		}
	}
	return false
}

func (e end) box(half float64) Rect { return around(e.tip, e.tail).grown(half) }

// alongside says whether a direction from a point lies along a line there.
func alongside(l drawn, at, d Pt) bool {
	q := at.along(d, 14)
	if q.X < min(l.a.X, l.b.X)-7.01 || q.X > max(l.a.X, l.b.X)+7.01 || q.Y < min(l.a.Y, l.b.Y)-7.01 || q.Y > max(l.a.Y, l.b.Y)+7.01 {
		return false // too far off, as most lines are
	}
	u := l.b.sub(l.a).unit()
	if math.Abs(u.X*d.X+u.Y*d.Y) < 0.9 {
		return false
	}
	near, _, _ := nearestOn([]Pt{l.a, l.b}, q)
	return near.far(q) < 7
}

// blade is the outline of a probe or clip that lies from tip to tail.
func (e end) blade(from, half float64) []Pt {
	p := pen{e.tip, e.tail.sub(e.tip).unit()}
	n := e.tip.far(e.tail)
	return []Pt{p.at(from, -half*0.45), p.at(n, -half), p.at(n, half), p.at(from, half*0.45)}
}

// lead draws a meter lead with its probe and takes its room.
func (o *overlay) lead(c Cable, r reached) {
	e := r.e
	way, fine := rounded(append([]Pt{e.tail}, r.line...), 26)
	core, body := RedLead, RedBody
	if c.Kind == "black" {
		core, body = BlackLead, BlackBody
	}
	g := o.sc.group("cables")
	g.add(Item{Class: CableEdge, Path: way}, Item{Class: CableCase, Path: way}, Item{Class: core, Path: way})
	blade := e.blade(probeBody, probeHalf)
	n := e.tail.sub(e.tip).unit()
	g.add(
		Item{Class: SymLine, Path: lines(e.tip.along(n, probeTip), e.tip.along(n, probeBody+1))},
		Item{Class: body, Path: closed(blade...), Of: c.Of},
	)
	c.Line, c.Half, c.Probe = append([]Pt{e.tip}, fine...), leadHalf, append(blade, e.tip)
	o.cable(c)
}

// cable takes the room of a cable.
func (o *overlay) cable(c Cable) {
	o.sc.Cables = append(o.sc.Cables, c)
	o.f.cables = append(o.f.cables, c.Line)
	o.f.line(c.Line, c.Half+1, false)
	for i := range o.f.lines[len(o.f.lines)-len(c.Line)+1:] {
		o.f.lines[len(o.f.lines)-len(c.Line)+1+i].solid = true
	}
	if len(c.Probe) > 0 {
		o.f.mark(around(c.Probe...))
	}
}

// meterAt finds a place for the meter's box: free, and not far from its points.
func (f *field) meterAt(w, h float64, near []Pt) []Pt {
	type place struct {
		at   Pt
		cost float64
	}
	var all []place
	b := f.bounds.grown(-6)
	for y := b.Y0 + h/2; y <= b.Y1-h/2; y += 8 {
		for x := b.X0 + w/2; x <= b.X1-w/2; x += 8 {
			at := Pt{x, y}
			c := f.coverCost(at.sized(w+6, h+6), at.sized(w+44, h+6))
			if math.IsInf(c, 1) {
				continue
			}
			for _, p := range near {
				d := at.sized(w, h).nearest(p).far(p)
				c += 0.6 * d
				if d < 48 { // room for a probe and a bend
					c += 4 * (48 - d)
				}
			}
			all = append(all, place{at, c})
		}
	}
	var out []Pt
	for range 5 { // the best five that are not the same place
		best := -1
		for i, p := range all {
			if best >= 0 && p.cost >= all[best].cost {
				continue
			}
			if !closeTo(out, p.at, 60) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		out = append(out, all[best].at)
	}
	return out
}

// coverCost is what it costs to lay a meter's box there: it may cover a wire
// where it must, and wants room for a lead on both sides.
func (f *field) coverCost(box, sides Rect) float64 {
	c, wires := f.costUnder(box, 0, math.Inf(1))
	if math.IsInf(c, 1) {
		return c
	}
	if !f.open(sides) {
		c += 50
	}
	return c - float64(wires)*(ofWire-150)
}

func closeTo(list []Pt, p Pt, d float64) bool {
	for _, q := range list {
		if q.far(p) < d {
			return true
		}
	}
	return false
}

// ports are where leads leave the meter's box.
func ports(box Rect) []end {
	var out []end
	c := box.mid()
	for _, p := range []struct{ at, d Pt }{
		{Pt{box.X0, c.Y - box.h()/4}, Pt{-1, 0}},
		{Pt{box.X0, c.Y + box.h()/4}, Pt{-1, 0}},
		{Pt{box.X1, c.Y - box.h()/4}, Pt{1, 0}},
		{Pt{box.X1, c.Y + box.h()/4}, Pt{1, 0}},
		{Pt{c.X - box.w()/4, box.Y0}, Pt{0, -1}},
		{Pt{c.X + box.w()/4, box.Y0}, Pt{0, -1}},
		{Pt{c.X - box.w()/4, box.Y1}, Pt{0, 1}},
		{Pt{c.X + box.w()/4, box.Y1}, Pt{0, 1}},
	} {
		out = append(out, end{tip: p.at, tail: p.at.along(p.d, 14)})
	}
	return out
}
