package drawing

import (
	"errors"
	"math"
	"slices"

	"chargewright/system"
)

// A close-up is the sheet around what a step is about: the box around it and
// around keeps free 48 px, the width of the sheet's own picture. Where the step's
// points lie far apart, each has a view of its own and a break line between them
// says that something is left out (ISO 128: interrupted views).
const (
	closeAround = 48.0
	closeHigh   = 280.0 // no view is made higher than this to join two
	closeLeast  = 176.0 // nor lower than this
	closeMore   = 40.0  // and for each instrument that there is no view of its own for
	closeMost   = 240.0 // no view is made higher by more than this to find room
	breakHigh   = 26.0
)

// CloseUp lays a system out for close-ups: the width is that of the picture, the
// sheet behind it is as wide as a tablet's.
func CloseUp(sys *system.System, width int) (*Sheet, error) {
	if width < Narrowest || width > Widest {
		return nil, tooNarrow(width)
	}
	s, err := New(sys, max(width, Tablet))
	if err != nil {
		return nil, err
	}
	s.close = float64(width)
	return s, nil
}

// views are the windows around some boxes, from top to bottom, with room for some
// instruments and higher by so much.
func (s *Sheet) views(boxes []Rect, instruments int, higher float64) []view {
	width := s.close
	if width == 0 {
		width = s.bounds.w()
	}
	if len(boxes) == 0 {
		boxes = []Rect{s.bounds.mid().box(1)}
	}
	groups := slices.Clone(boxes)
	for merged := true; merged; {
		merged = false
		for i := range groups {
			for j := i + 1; j < len(groups); j++ {
				if all := groups[i].joined(groups[j]); all.w()+2*closeAround <= width && all.h()+2*closeAround <= closeHigh {
					groups[i] = all
					groups = slices.Delete(groups, j, j+1)
					merged = true
					break
				}
			}
		}
	}
	slices.SortFunc(groups, func(a, b Rect) int {
		if a.Y0 != b.Y0 {
			return int(math.Copysign(1, a.Y0-b.Y0))
		}
		return int(a.X0 - b.X0)
	})
	var out []view
	y := 0.0
	for _, g := range groups {
		h := higher + max(g.h()+2*closeAround, closeLeast+closeMore*float64(max(0, instruments-len(groups))))
		w := Rect{g.mid().X - width/2, g.mid().Y - h/2, g.mid().X + width/2, g.mid().Y + h/2}
		w = w.moved(Pt{inside(w.X0, w.X1, s.bounds.X0, s.bounds.X1), inside(w.Y0, w.Y1, s.bounds.Y0, s.bounds.Y1)})
		if y > 0 {
			y += breakHigh
		}
		out = append(out, view{window: w, by: Pt{-w.X0, y - w.Y0}})
		y += w.h()
	}
	return out
}

// inside is how far to move a stretch so that it lies within another.
func inside(a, b, lo, hi float64) float64 {
	switch {
	case a < lo:
		return lo - a
	case b > hi:
		return max(hi-b, lo-a)
	}
	return 0
}

// within is the field as it is seen in a window.
func (f *field) within(w Rect) *field {
	out := &field{bounds: w}
	for _, b := range f.boxes {
		if b.box.touches(w) {
			b.box = b.box.common(w)
			out.boxes = append(out.boxes, b)
		}
	}
	for _, l := range f.lines {
		if a, b, ok := w.clip(l.a, l.b); ok {
			l.a, l.b = a, b
			out.lines = append(out.lines, l)
		}
	}
	return out
}

// clip is the part of a segment within the rectangle.
func (r Rect) clip(a, b Pt) (Pt, Pt, bool) {
	t0, t1, ok := r.span(a, b)
	return a.to(b, t0), a.to(b, t1), ok
}

// breaks draws the break lines between views.
func (o *overlay) breaks(views []view) {
	for k := range views[:len(views)-1] {
		y := views[k].window.moved(views[k].by).Y1 + breakHigh/2
		pts := []Pt{{0, y}}
		for x := 30.0; x < o.sc.W-20; x += 90 {
			pts = append(pts, Pt{x, y}, Pt{x + 5, y - 8}, Pt{x + 13, y + 8}, Pt{x + 18, y})
		}
		o.sc.group("breaks").add(Item{Class: BreakLine, Path: lines(append(pts, Pt{o.sc.W, y})...)})
		o.f.line([]Pt{{0, y}, {o.sc.W, y}}, 8, false)
	}
}

func joined(list []error) error { return errors.Join(list...) }
