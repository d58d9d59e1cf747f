package drawing

// lay places everything that a hook-up adds, the stiffest first, then lets the
// sheet's own labels give way where they must.
func (o *overlay) lay() {
	for _, c := range o.o.Clamps {
		o.clamp(c)
	}
	for _, i := range o.leadsOn() {
		o.jumper(i)
	}
	if len(o.o.Leads) > 0 {
		if l := o.o.Leads[0]; o.has(l.Red) && o.has(l.Black) {
			o.meter(l)
		}
	}
	o.ring() // under the numbers
	o.relabel()
	for _, c := range o.sc.Cables {
		if c.Kind != "jumper" {
			o.tag(c)
		}
	}
	o.flags()
	o.captions()
	o.causes()
}

func (o *overlay) has(point string) bool { _, ok := o.at[point]; return ok }

// leadsOn are the jumpers and bypass leads that are fitted, in the order of their
// places.
func (o *overlay) leadsOn() []*fitted {
	var out []*fitted
	for i := range o.s.sys.Rig.Places {
		for _, e := range o.s.sys.Elements {
			if g := o.h.gaps[e.ID]; g != nil && g.place == i {
				out = append(out, g)
			}
		}
	}
	return out
}

// here are the points that the step is about.
func (o *overlay) here() map[string]bool {
	out := map[string]bool{}
	for _, l := range o.o.Leads {
		out[l.Red], out[l.Black] = true, true
	}
	return out
}

// relabel writes the sheet's labels. Those that a cable or a meter would cover
// move; a name that finds no other place is left out, and so is the number of a
// close-up's point that the step is not about.
func (o *overlay) relabel() {
	here := o.here()
	var kept []placed
	for _, l := range o.labels {
		switch {
		case o.covered(l.Box):
		case l.name != nil && l.Box.grown(2).crossedBy(o.dots):
		default:
			kept = append(kept, l)
			continue
		}
		o.f.drop(l.Box)
		again, ok := o.replaced(l)
		if !ok && (l.name != nil || o.o.Close && !here[l.Of]) {
			continue
		}
		o.f.take(again.Box)
		kept = append(kept, again)
	}
	o.labels = kept
	o.s.write(o.sc, kept, here)
}

// replaced finds another place for a label.
func (o *overlay) replaced(l placed) (placed, bool) {
	defer o.near(l.near)()
	if l.name != nil {
		return l.name.place(o.f, o.s.size)
	}
	for _, far := range []float64{numberFar, 3 * numberFar} {
		if n, ok := o.s.numberAt(o.f, o.at[l.Of], l.Label, far); ok {
			return n, true
		}
	}
	return l, false
}

// covered says whether something that a hook-up added lies over a box.
func (o *overlay) covered(b Rect) bool {
	for _, c := range o.sc.Cables {
		if b.grown(c.Half).crossedBy(c.Line) || len(c.Probe) > 0 && b.touches(around(c.Probe...)) {
			return true
		}
	}
	for _, m := range o.sc.Symbols {
		if (m.Kind == "clamp" || m.Kind == "meter" || m.Kind == "switch" && o.h.gaps[m.Of] != nil) && b.touches(m.Box) {
			return true
		}
	}
	return false
}
