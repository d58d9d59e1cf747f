package drawing

import "slices"

// lay places everything that a hook-up adds but the letters of causes, the stiffest
// first, then lets the sheet's own labels give way where they must; false where there
// is no room for a meter or the tag of a lead.
func (o *overlay) lay() bool {
	for _, c := range o.o.Clamps {
		o.clamp(c)
	}
	o.captions(true)
	for _, i := range o.leadsOn() {
		o.jumper(i)
	}
	ok := true
	for _, m := range o.meters() {
		ok = o.meter(m) && ok
	}
	o.ring() // under the numbers
	o.relabel()
	o.sc.group("names") // under the tags
	ok = o.tags() && ok
	o.flags()
	o.captions(false)
	return ok
}

// finish adds what changes from reading to reading on the same hook-up, the letters of
// the causes, and the words that stand under or beside everything.
func (o *overlay) finish() *Scene {
	o.causes()
	o.s.write(o.sc, o.labels, o.here())
	if !o.o.Close {
		o.legend()
	}
	o.sc.Title, o.sc.Desc = o.title(), o.describe()
	return o.sc
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

// relabel finds room for the sheet's labels anew. Those that a cable or a meter
// would cover move; a name that finds no other place is left out, and so is the
// number of a close-up's point that the step is not about.
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
		if !ok && o.mayGo(l, here) {
			continue
		}
		o.f.take(again.Box)
		kept = append(kept, again)
	}
	o.labels = kept
}

// tags name every lead beside its probe; false where one finds no room.
func (o *overlay) tags() bool {
	ok := true
	for _, c := range o.sc.Cables {
		if c.Kind != "jumper" {
			ok = o.insist(c.Line[0], func() bool { return o.tag(c) }) && ok
		}
	}
	return ok
}

// insist places what must be seen. Where there is no room, what the step is not
// about goes unnamed; false where that does not do.
func (o *overlay) insist(at Pt, place func() bool) bool {
	for !place() {
		if !o.forget(at) {
			return false
		}
	}
	return true
}

// forget leaves out the label nearest to a spot that may be left out, if there is
// one near.
func (o *overlay) forget(at Pt) bool {
	const near = 150.0
	here, best := o.here(), -1
	for i, l := range o.labels {
		if !o.mayGo(l, here) {
			continue
		}
		if d := l.Box.mid().far(at); d < near && (best < 0 || d < o.labels[best].Box.mid().far(at)) {
			best = i
		}
	}
	if best < 0 {
		return false
	}
	o.f.drop(o.labels[best].Box)
	o.labels = slices.Delete(o.labels, best, best+1)
	return true
}

// mayGo says whether a label may be left out.
func (o *overlay) mayGo(l placed, here map[string]bool) bool {
	if l.name != nil {
		return !l.name.must
	}
	return o.o.Close && !here[l.Of]
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
