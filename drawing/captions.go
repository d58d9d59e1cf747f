package drawing

import (
	"strings"
)

// captions name what is clipped on and what is fitted.
func (o *overlay) captions() {
	for _, m := range o.sc.Symbols {
		switch {
		case !o.whole(m.Box):
		case m.Kind == loadTester, m.Kind == watchMeter:
			o.caption(m.Kind, m.Kind, m.Box)
		case m.Kind == "clamp":
			o.caption(m.Of, "clamp meter", m.Box)
		}
	}
	if box, ok := o.device("battery"); ok {
		o.caption("battery", "battery", box)
	}
	for _, c := range o.sc.Cables {
		if c.Kind != "jumper" {
			continue
		}
		g := o.h.gaps[c.Of]
		name := o.s.sys.Rig.Places[g.place].Name
		if len(g.gap.Name) < 20 {
			name = g.gap.Name
		}
		mid, _, _ := longest(c.Line)
		o.caption(c.Of, name, mid.box(jumpHalf+1))
	}
}

func (o *overlay) caption(of, text string, at Rect) {
	n := naming{of: of, text: text, at: at, far: true, least: true}
	restore := o.near(at)
	l, ok := n.place(o.f, o.s.size)
	restore()
	if !ok {
		return
	}
	o.f.take(l.Box)
	o.s.write(o.sc, []placed{l}, nil)
}

// legend says what the lines mean, below the circuit.
func (o *overlay) legend() {
	heavy := "heavy: at battery volts"
	if len(o.h.live) == 0 {
		heavy = "no line heavy: nothing is live"
	}
	parts := []string{heavy}
	for _, w := range o.sc.Wires {
		if w.Off {
			parts = append(parts, "dashed: off")
			break
		}
	}
	if len(o.o.Causes) > 0 {
		parts = append(parts, "square letter: where a likely cause sits")
	}
	if o.o.Now != nil {
		parts = append(parts, "dotted ring: here, now")
	}
	size := o.s.size
	var rows []string
	for _, p := range parts {
		if n := len(rows); n > 0 && TextWidth(rows[n-1]+"     "+p, size, false) < o.sc.W-2*edge {
			rows[n-1] += "     " + p
			continue
		}
		rows = append(rows, p)
	}
	g := o.sc.group("names")
	for _, row := range rows {
		base := o.sc.H + size*ascent
		x := float64(edge)
		for _, p := range strings.Split(row, "     ") {
			w := TextWidth(p, size, false)
			g.add(Item{Class: NoteText, Text: p, At: Pt{x, base}, Size: size})
			o.sc.Labels = append(o.sc.Labels, Label{Kind: Legend, Text: p, Size: size, Box: Rect{x, o.sc.H, x + w, base + size*descent}})
			x += w + TextWidth("     ", size, false)
		}
		o.sc.H += size * 1.3
	}
	o.sc.H += 4
}
