package drawing

import (
	"math"
	"slices"
)

// Pt is a place on the finished sheet [px], y down.
type Pt struct{ X, Y float64 }

func (p Pt) add(q Pt) Pt              { return Pt{p.X + q.X, p.Y + q.Y} }
func (p Pt) sub(q Pt) Pt              { return Pt{p.X - q.X, p.Y - q.Y} }
func (p Pt) times(k float64) Pt       { return Pt{p.X * k, p.Y * k} }
func (p Pt) to(q Pt, t float64) Pt    { return Pt{p.X + (q.X-p.X)*t, p.Y + (q.Y-p.Y)*t} }
func (p Pt) far(q Pt) float64         { return math.Hypot(q.X-p.X, q.Y-p.Y) }
func (p Pt) along(d Pt, k float64) Pt { return p.add(d.times(k)) }
func (p Pt) turned() Pt               { return Pt{-p.Y, p.X} }
func (p Pt) box(half float64) Rect    { return Rect{p.X - half, p.Y - half, p.X + half, p.Y + half} }
func (p Pt) sized(w, h float64) Rect  { return Rect{p.X - w/2, p.Y - h/2, p.X + w/2, p.Y + h/2} }
func (p Pt) unit() Pt {
	if n := math.Hypot(p.X, p.Y); n > 0 {
		return Pt{p.X / n, p.Y / n}
	}
	return Pt{1, 0}
}

// Rect is a rectangle along the sheet's sides.
type Rect struct{ X0, Y0, X1, Y1 float64 }

func (r Rect) w() float64     { return r.X1 - r.X0 }
func (r Rect) h() float64     { return r.Y1 - r.Y0 }
func (r Rect) mid() Pt        { return Pt{(r.X0 + r.X1) / 2, (r.Y0 + r.Y1) / 2} }
func (r Rect) has(p Pt) bool  { return p.X >= r.X0 && p.X <= r.X1 && p.Y >= r.Y0 && p.Y <= r.Y1 }
func (r Rect) in(q Rect) bool { return r.X0 >= q.X0 && r.Y0 >= q.Y0 && r.X1 <= q.X1 && r.Y1 <= q.Y1 }

func (r Rect) grown(k float64) Rect {
	return Rect{r.X0 - k, r.Y0 - k, r.X1 + k, r.Y1 + k}
}

func (r Rect) moved(d Pt) Rect { return Rect{r.X0 + d.X, r.Y0 + d.Y, r.X1 + d.X, r.Y1 + d.Y} }

// touches says whether two rectangles share area.
func (r Rect) touches(q Rect) bool {
	return r.X0 < q.X1 && q.X0 < r.X1 && r.Y0 < q.Y1 && q.Y0 < r.Y1
}

func (r Rect) joined(q Rect) Rect {
	return Rect{min(r.X0, q.X0), min(r.Y0, q.Y0), max(r.X1, q.X1), max(r.Y1, q.Y1)}
}

// depth is how far inside the rectangle a place lies; below 0 outside.
func (r Rect) depth(p Pt) float64 { return min(p.X-r.X0, r.X1-p.X, p.Y-r.Y0, r.Y1-p.Y) }

// common is the part that two rectangles share.
func (r Rect) common(q Rect) Rect {
	return Rect{max(r.X0, q.X0), max(r.Y0, q.Y0), min(r.X1, q.X1), min(r.Y1, q.Y1)}
}

// around is the smallest rectangle that holds the points.
func around(pts ...Pt) Rect {
	r := Rect{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range pts {
		r = r.joined(Rect{p.X, p.Y, p.X, p.Y})
	}
	return r
}

// nearest is the spot of r that is nearest to p.
func (r Rect) nearest(p Pt) Pt {
	return Pt{max(r.X0, min(r.X1, p.X)), max(r.Y0, min(r.Y1, p.Y))}
}

// crosses says whether the segment a-b touches the rectangle. Most lie on one side of
// it, which needs no division.
func (r Rect) crosses(a, b Pt) bool {
	if a.X < r.X0 && b.X < r.X0 || a.X > r.X1 && b.X > r.X1 || a.Y < r.Y0 && b.Y < r.Y0 || a.Y > r.Y1 && b.Y > r.Y1 {
		return false
	}
	_, _, ok := r.span(a, b)
	return ok
}

// span is the share of a segment that lies within the rectangle (Liang and
// Barsky: the segment is clipped against each side in turn).
func (r Rect) span(a, b Pt) (t0, t1 float64, ok bool) {
	t0, t1 = 0, 1
	d := b.sub(a)
	for _, s := range [4][2]float64{{-d.X, a.X - r.X0}, {d.X, r.X1 - a.X}, {-d.Y, a.Y - r.Y0}, {d.Y, r.Y1 - a.Y}} {
		p, q := s[0], s[1]
		switch {
		case p == 0 && q < 0:
			return 0, 0, false
		case p < 0:
			t0 = max(t0, q/p)
		case p > 0:
			t1 = min(t1, q/p)
		}
	}
	return t0, t1, t0 <= t1
}

// crossedBy says whether a polyline touches the rectangle.
func (r Rect) crossedBy(line []Pt) bool {
	for i := 1; i < len(line); i++ {
		if r.crosses(line[i-1], line[i]) {
			return true
		}
	}
	return false
}

// legs gives each leg of a polyline with its direction and length.
func legs(line []Pt, do func(a, b, dir Pt, length float64)) {
	for i := 1; i < len(line); i++ {
		if n := line[i-1].far(line[i]); n > 0 {
			do(line[i-1], line[i], line[i].sub(line[i-1]).unit(), n)
		}
	}
}

// longest is the middle of the longest leg and its direction.
func longest(line []Pt) (mid, dir Pt, length float64) {
	mid, dir = line[0], Pt{1, 0}
	legs(line, func(a, b, d Pt, n float64) {
		if n > length {
			mid, dir, length = a.to(b, 0.5), d, n
		}
	})
	return mid, dir, length
}

// nearestOn is the spot of a polyline that is nearest to p, with the direction
// of its leg and how far along the line it lies.
func nearestOn(line []Pt, p Pt) (at, dir Pt, along float64) {
	best, run := math.Inf(1), 0.0
	at, dir = line[0], Pt{1, 0}
	legs(line, func(a, _, d Pt, n float64) {
		t := max(0, min(n, (p.X-a.X)*d.X+(p.Y-a.Y)*d.Y))
		if q := a.along(d, t); q.far(p) < best {
			best, at, dir, along = q.far(p), q, d, run+t
		}
		run += n
	})
	return at, dir, along
}

// cut takes the part from one length to another out of a polyline.
func cut(line []Pt, from, to float64) (before, after []Pt) {
	run := 0.0
	before = append(before, line[0])
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		n := a.far(b)
		d := b.sub(a).unit()
		switch {
		case run+n <= from:
			before = append(before, b)
		case run < from:
			before = append(before, a.along(d, from-run))
		}
		switch {
		case run >= to:
			after = append(after, b)
		case run+n > to:
			after = append(after, a.along(d, to-run), b)
		}
		run += n
	}
	return before, after
}

// cutAll takes several parts, each a middle and a half length, out of a line.
func cutAll(line []Pt, parts [][2]float64) [][]Pt {
	slices.SortFunc(parts, func(a, b [2]float64) int {
		if a[0] > b[0] {
			return -1
		}
		return 1
	})
	var out [][]Pt
	rest := line
	for _, p := range parts { // from the end, so that lengths keep their meaning
		before, after := cut(rest, p[0]-p[1], p[0]+p[1])
		out = append(out, after)
		rest = before
	}
	out = append(out, rest)
	return slices.DeleteFunc(out, func(l []Pt) bool { return len(l) < 2 || around(l...).w()+around(l...).h() < 0.01 })
}
