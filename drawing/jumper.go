package drawing

import "math"

// tips are where a cable may be clipped to a point: the point itself, or
// anywhere on its rail.
func (o *overlay) tips(point string) []Pt {
	var out []Pt
	if at, ok := o.at[point]; ok {
		out = append(out, at)
	}
	for _, r := range o.rails {
		if r.point != point {
			continue
		}
		n := r.a.far(r.b)
		for s := 8.0; s < n-8; s += 14 {
			out = append(out, r.a.to(r.b, s/n))
		}
	}
	return out
}

// jumper draws a lead that is fitted between two points.
func (o *overlay) jumper(g *fitted) {
	from, to := o.tips(g.gap.From), o.tips(g.gap.To)
	if len(from) == 0 || len(to) == 0 {
		return
	}
	t := o.f.terrain(jumpHalf)
	a, b := o.f.approaches(t, from, clipTail, clipHalf), o.f.approaches(t, to, clipTail, clipHalf)
	if len(a) == 0 || len(b) == 0 {
		return
	}
	line, i, j := t.way(a, b, math.Inf(1))
	way, fine := rounded(line, 24)
	core, body := JumpLead, JumpBody
	if n := o.o.Now; n != nil && o.s.place(n.Place) == g.place {
		core, body = NowLead, NowBody
	}
	layer := o.sc.group("cables")
	layer.add(Item{Class: Halo, Path: way}, Item{Class: core, Path: way, Of: g.gap.ID},
		Item{Class: body, Path: closed(a[i].blade(1, clipHalf)...)}, Item{Class: body, Path: closed(b[j].blade(1, clipHalf)...)})
	all := append(append([]Pt{a[i].tip}, fine...), b[j].tip)
	o.cable(Cable{Kind: "jumper", Of: g.gap.ID, Line: all, Half: jumpHalf, Probe: append(a[i].blade(1, clipHalf), a[i].tip)})
	o.f.mark(b[j].box(clipHalf))
	if g.push {
		mid, dir, _ := longest(line)
		p := pen{o.f.bounds.grown(-15).nearest(mid), dir}.upwards() // a cable may run along the edge
		layer.add(Item{Class: SymBody, Path: p.rect(-14, -12, 14, 7)})
		layer.add(p.contact(!g.closed)...)
		box := around(p.at(-14, -12), p.at(14, 7))
		o.f.mark(box)
		o.sc.Symbols = append(o.sc.Symbols, Mark{"switch", g.gap.ID, box})
	}
}
