package drawing

import (
	"slices"
	"strings"
)

// captions name what is clipped on and what is fitted. What has the number of
// the box that it is read in must have it: it is named first, and leads go round.
func (o *overlay) captions(numbered bool) {
	for _, m := range o.sc.Symbols {
		name, box := o.instrument(m)
		if name != "" && (box > 0) == numbered && o.whole(m.Box) {
			o.caption(orElse(m.Of, m.Kind), marked(name, boxNumbers(box)), m.Box, numbered)
		}
	}
	if numbered {
		return
	}
	for _, x := range o.s.sys.Accumulators() {
		if box, ok := o.device(x.Device); ok {
			o.caption(x.Device, x.Called, box, false)
		}
	}
	if box, ok := o.device("splitter"); ok {
		o.caption("splitter", "splitter", box, false)
	}
	if box, ok := o.device("relay"); ok {
		o.caption("relay", "relay", box, false)
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
		o.caption(c.Of, name, mid.box(jumpHalf+1), false)
	}
}

// instrument is what a symbol is called that is not the vehicle's own, and the
// number of the box that it is read in.
func (o *overlay) instrument(m Mark) (name string, box int) {
	switch m.Kind {
	case loadTester:
		return loadTester, 0
	case watchMeter:
		for _, l := range o.o.Leads {
			if l.Watch {
				box = l.Box
			}
		}
		return watchMeter, box
	case "clamp":
		for _, c := range o.o.Clamps {
			if c.Element == m.Of {
				box = c.Box
			}
		}
		return "clamp meter", box
	}
	if o.h.series[m.Of] {
		return "ammeter", slices.Max(append([]int{0}, o.o.Series...))
	}
	return "", 0
}

// caption names a thing beside it; one that must be named stands further off
// where there is no room, and gives way to what comes later as the sheet's own do.
func (o *overlay) caption(of, text string, at Rect, must bool) {
	n := naming{of: of, text: text, at: at, far: true, least: !must, must: must}
	restore := o.near(at)
	l, ok := n.place(o.f, o.s.size)
	restore()
	switch {
	case !ok:
	case must:
		o.f.take(l.Box)
		o.labels = append(o.labels, l)
	default:
		o.f.take(l.Box)
		o.s.write(o.sc, []placed{l}, nil)
	}
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
