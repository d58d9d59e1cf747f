package drawing

import (
	"fmt"
	"slices"

	"chargewright/question"
	"chargewright/rig"
)

// Options say what a picture shows beyond the circuit.
type Options struct {
	Name   string    // begins every id; give each picture of a page its own. Empty = drawing
	Rig    rig.State // how the vehicle is hooked up
	Leads  []Lead    // every pair that is read
	InTurn bool      // pairs are read one after the other, with one meter
	Clamps []Clamp
	Series []int // box that an ammeter in series is read in, as of a Lead
	Now    *Now
	Causes []Cause
	Close  bool // only what is around the points, the clamps and Now: for a phone
}

// Lead is a meter's pair of leads. Where a step is read at several places, each
// meter carries the number of the box that it is entered in.
type Lead struct {
	Red, Black string // points
	Quantity   question.Kind
	Box        int  // 0 = the only one
	Watch      bool // read off the watch meter, which is on these points: no leads
}

// Clamp is a clamp meter round a joint or wire; its arrow points from the
// element's first point to its second.
type Clamp struct {
	Element string
	Box     int // as of a Lead
}

// Now is where hands or eyes go now: a place, a point or an element. Of a place
// it may say which position it goes to: what is fitted then is drawn already.
type Now struct {
	Place, Point, Element string
	To                    string // a position of the place
	Stage                 int    // the line of the hook-up, 0 = not told
}

// Cause is a likely cause with the letter that it has for the whole job; it
// stands where the first of its faults sits that the picture shows.
type Cause struct {
	Letter string
	Faults []string
}

// Draw lays a hook-up over the sheet. What the system does not have is refused,
// all of it at once.
func (s *Sheet) Draw(o Options) (*Scene, error) {
	if err := s.known(o); err != nil {
		return nil, err
	}
	return s.laidOut(o).finish(), nil
}

// laidOut is a picture but for the letters of the causes. A close-up is made higher
// where a meter or a lead's tag finds no room.
func (s *Sheet) laidOut(o Options) *overlay {
	h := hookUp(s.sys, o.Rig)
	if n := o.Now; n != nil && n.Place != "" && n.To != "" {
		i := s.place(n.Place)
		h.shown = o.Rig.With(i, max(position(s.sys.Rig.Places[i], n.To), o.Rig.At(i)))
		h.fit(i, h.shown.At(i), false)
	}
	for higher := 0.0; ; higher += closeMore {
		ov, ok := s.scene(h, o, higher)
		if ok || !o.Close || higher >= closeMost {
			return ov
		}
	}
}

// scene is a picture but for the letters of the causes; false where a meter or a
// lead's tag finds no room.
func (s *Sheet) scene(h *hookup, o Options, higher float64) (*overlay, bool) {
	sc := &Scene{Name: orElse(o.Name, "drawing"), W: s.bounds.w(), H: s.bounds.h()}
	ov := &overlay{s: s, sc: sc, h: h, o: o, at: map[string]Pt{}, f: &field{}}
	views := []view{{window: s.bounds}}
	if o.Close {
		views = s.views(ov.places(), len(o.Leads)+len(o.Clamps)+len(o.Series), higher)
		if s.close > 0 {
			sc.W = s.close
		}
	}
	home := s.homes(views)
	for k := range views {
		ov.show(&views[k], o.Close, home[k])
	}
	sc.H = views[len(views)-1].window.moved(views[len(views)-1].by).Y1
	ov.f.bounds = Rect{0, 0, sc.W, sc.H}
	ov.breaks(views)
	return ov, ov.lay()
}

// view is a part of the sheet that is shown, and how far it is moved for that.
type view struct {
	window Rect // on the sheet
	by     Pt
	sheet  *Sheet // moved
}

// homes are the points of each view. One that two views show is at home where it
// stands further from the edge: there it has its number and its lead.
func (s *Sheet) homes(views []view) []map[string]bool {
	out := make([]map[string]bool, len(views))
	for k := range out {
		out[k] = map[string]bool{}
	}
	for id, at := range s.at {
		best, room := -1, 0.0
		for k, v := range views {
			if d := v.window.depth(at); d >= room {
				best, room = k, d
			}
		}
		if best >= 0 {
			out[best][id] = true
		}
	}
	return out
}

// show paints one view and takes over what lies in it.
func (o *overlay) show(v *view, clip bool, home map[string]bool) {
	v.sheet = o.s
	seen := v.window.moved(v.by)
	labels := slices.Clone(o.s.labels)
	if clip {
		v.sheet = o.s.shifted(v.by)
		o.sc.window = &seen
	}
	f := v.sheet.ground(o.h.clipped)
	if clip {
		f = f.within(seen)
		labels, _ = v.sheet.label(v.sheet.ground(o.h.clipped).within(seen), seen, home, o.here())
	}
	v.sheet.paint(o.sc, o.h)
	o.sc.window = nil
	o.sc.Symbols = append(o.sc.Symbols, v.sheet.marksIn(seen)...)
	for _, p := range o.s.sys.Points {
		if at := v.sheet.at[p.ID]; home[p.ID] {
			o.at[p.ID] = at
			o.sc.Points = append(o.sc.Points, Spot{p.ID, p.Number, at})
		}
	}
	for i := range v.sheet.runs {
		r := v.sheet.runs[i]
		o.sc.Wires = append(o.sc.Wires, o.h.wireOf(&r))
		o.keepRun(r, seen)
	}
	for _, r := range v.sheet.rails {
		if seen.crosses(r.a, r.b) {
			o.rails = append(o.rails, rail{r.point, r.name, seen.nearest(r.a), seen.nearest(r.b)})
		}
	}
	o.views = append(o.views, v)
	o.f.boxes, o.f.lines = append(o.f.boxes, f.boxes...), append(o.f.lines, f.lines...)
	for _, l := range labels {
		o.f.take(l.Box)
		if l.stem != nil {
			o.f.line(l.stem, 1, false)
		}
	}
	o.labels = append(o.labels, labels...)
}

// keepRun notes an element that a view shows; one that two views show is taken
// where its middle stands further from the edge.
func (o *overlay) keepRun(r run, seen Rect) {
	mid, _, _ := longest(r.line)
	r.room = max(seen.depth(r.mid), seen.depth(mid))
	if r.sw != nil {
		r.room = max(r.room, seen.depth(*r.sw))
	}
	if r.room < 0 {
		return
	}
	if old := o.runOf(r.e.ID); old == nil {
		o.runs = append(o.runs, r)
	} else if old.room < r.room {
		*old = r
	}
}

// known refuses what the system does not have.
func (s *Sheet) known(o Options) error {
	var list []error
	point := func(id string) {
		if _, ok := s.at[id]; !ok {
			list = append(list, fmt.Errorf("system %s has no point %q", s.sys.ID, id))
		}
	}
	elem := func(id string) {
		if s.run(id) == nil {
			list = append(list, fmt.Errorf("system %s has no joint, wire or load %q", s.sys.ID, id))
		}
	}
	for i, p := range s.sys.Rig.Places {
		if o.Rig.At(i) >= len(p.Positions) {
			list = append(list, fmt.Errorf("place %s has no position number %d", p.ID, o.Rig.At(i)))
		}
	}
	for _, l := range o.Leads {
		point(l.Red)
		point(l.Black)
	}
	for _, c := range o.Clamps {
		elem(c.Element)
	}
	if n := o.Now; n != nil {
		if n.Point != "" {
			point(n.Point)
		}
		if n.Element != "" {
			elem(n.Element)
		}
		switch i := s.place(n.Place); {
		case n.Place == "":
		case i < 0:
			list = append(list, fmt.Errorf("system %s has no place %q", s.sys.ID, n.Place))
		case n.To != "" && position(s.sys.Rig.Places[i], n.To) < 0:
			list = append(list, fmt.Errorf("place %s has no position %q", n.Place, n.To))
		}
	}
	for _, c := range o.Causes {
		for _, f := range c.Faults {
			if s.fault(f) == nil {
				list = append(list, fmt.Errorf("system %s has no fault %q", s.sys.ID, f))
			}
		}
	}
	return joined(list)
}

// position is the number of a place's position, -1 = none.
func position(p rig.Place, id string) int {
	return slices.IndexFunc(p.Positions, func(q rig.Position) bool { return q.ID == id })
}
