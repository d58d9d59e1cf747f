package drawing

import (
	"math"
	"slices"
	"sync"
)

// field knows what room is taken. Boxes are never shared; lines are kept clear
// where that can be done.
type field struct {
	bounds    Rect
	boxes     []taken
	lines     []drawn
	cables    [][]Pt
	overEdges bool // what is placed may cover a boundary
}

type taken struct {
	box  Rect
	mark bool // a symbol or a cable: words keep off, cables may cross a symbol
}

type drawn struct {
	a, b  Pt
	half  float64
	weak  bool // a boundary: crossed before anything else
	solid bool // a cable: never crossed by words
}

func (f *field) take(box Rect) { f.boxes = append(f.boxes, taken{box: box}) }

// drop gives the room of a label back.
func (f *field) drop(box Rect) {
	f.boxes = slices.DeleteFunc(f.boxes, func(t taken) bool { return !t.mark && t.box == box })
}

func (f *field) mark(box Rect) { f.boxes = append(f.boxes, taken{box, true}) }

func (f *field) line(line []Pt, half float64, weak bool) {
	for i := 1; i < len(line); i++ {
		f.lines = append(f.lines, drawn{a: line[i-1], b: line[i], half: half, weak: weak})
	}
}

// gap is the least distance between words and anything else [px].
const gap = 1.5

// What a place costs a label, in px of distance from where it would like to be.
const (
	ofWire  = 400.0
	ofEdge  = 90.0
	ofStem  = 25.0
	cramped = 3.0 // for each px that is missing to a comfortable distance
)

// cost is what it costs to put words there; +Inf where they cannot go.
func (f *field) cost(box Rect) float64 {
	c, _ := f.costUnder(box, 0, math.Inf(1))
	return c
}

// costUnder is cost on top of what a place costs already, looked at only while both
// together stay under most: +Inf from there on. Wires is how many wires the box covers.
// All costs are whole numbers, so that their order does not matter.
func (f *field) costUnder(box Rect, already, most float64) (c float64, wires int) {
	if !f.free(box) {
		return math.Inf(1), 0
	}
	near := box.grown(4)
	for _, t := range f.boxes {
		if t.box.touches(near) {
			c += cramped
		}
	}
	for i := range f.lines {
		l := &f.lines[i]
		switch room := box.grown(l.half + gap); {
		case !room.crosses(l.a, l.b):
			continue
		case l.solid:
			return math.Inf(1), 0
		case l.weak && f.overEdges:
			c++
		case l.weak:
			c += ofEdge
		default:
			c += ofWire
			wires++
		}
		if already+c >= most {
			return math.Inf(1), 0
		}
	}
	return c, wires
}

// free says whether a box lies within bounds and touches no other.
func (f *field) free(box Rect) bool {
	if !box.in(f.bounds.grown(-2)) {
		return false
	}
	grown := box.grown(gap)
	for i := range f.boxes {
		if f.boxes[i].box.touches(grown) {
			return false
		}
	}
	return true
}

// open says whether words may stand there at all.
func (f *field) open(box Rect) bool {
	if !f.free(box) {
		return false
	}
	for i := range f.lines {
		if l := &f.lines[i]; l.solid && box.grown(l.half+gap).crosses(l.a, l.b) {
			return false
		}
	}
	return true
}

// spot is a place that a label might stand at.
type spot struct {
	mid  Pt
	cost float64
	stem bool // a stem leads from what it names
	near Rect // what it names, where there is a stem
}

// stemTo is the stem to the label's box.
func (s spot) stemTo(box Rect) []Pt {
	from := s.near.nearest(box.mid())
	return []Pt{from, box.grown(1).nearest(from)}
}

// best is the cheapest place for a box of the given size, or none.
func (f *field) best(w, h float64, spots []spot) (spot, bool) {
	best, found := spot{cost: math.Inf(1)}, false
	for _, s := range spots {
		if s.cost >= best.cost {
			continue
		}
		box := s.mid.sized(w, h)
		more, _ := f.costUnder(box, s.cost, best.cost)
		if s.cost += more; s.cost < best.cost && s.stem {
			s.cost += f.stemCost(s.stemTo(box), s.near)
		}
		if s.cost < best.cost {
			best, found = s, true
		}
	}
	return best, found
}

// stemCost is what a stem costs that runs over things.
func (f *field) stemCost(stem []Pt, own Rect) float64 {
	c := 0.0
	for _, t := range f.boxes {
		if t.box.crossedBy(stem) && !(t.mark && t.box.touches(own.grown(1))) {
			c += 8 * ofStem
		}
	}
	for _, l := range f.lines {
		if meet(stem[0], stem[1], l.a, l.b) && !own.grown(3).crosses(l.a, l.b) {
			c += ofStem
		}
	}
	return c
}

// meet says whether two segments cross.
func meet(a, b, c, d Pt) bool {
	side := func(p, q, r Pt) float64 { return (q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X) }
	return side(a, b, c)*side(a, b, d) <= 0 && side(c, d, a)*side(c, d, b) <= 0
}

// stemmed gives every place a stem from a box.
func stemmed(spots []spot, from Rect) []spot {
	for k := range spots {
		spots[k].stem, spots[k].near = true, from
	}
	return spots
}

// ring lists places around a box, further and further out, with a stem where
// they are too far to be taken for its own.
func ring(at Rect, from, to, step float64, w, h float64) []spot {
	spots := func(d float64) int { return max(12, int(2*math.Pi*d/12)) }
	all := 0
	for d := from; d <= to; d += step {
		all += spots(d)
	}
	out := make([]spot, 0, all)
	c := at.mid()
	for d := from; d <= to; d += step {
		for _, b := range bearings(spots(d)) {
			dir := b.dir
			// edges, not middles, keep the distance
			reach := min((at.w()+w)/2/max(1e-9, math.Abs(dir.X)), (at.h()+h)/2/max(1e-9, math.Abs(dir.Y)))
			s := spot{mid: c.along(dir, d+reach), cost: 4 + 1.5*d + 4*b.aslant, near: at}
			if d > 13 {
				s.stem, s.cost = true, s.cost+ofStem
			}
			out = append(out, s)
		}
	}
	return out
}

// bearing is a direction, and how far it is from those of the sheet's sides.
type bearing struct {
	dir    Pt
	aslant float64
}

// bearings are n directions all round. They are the same for every ring of as many.
func bearings(n int) []bearing {
	kept, _ := allBearings.Load(n)
	if b, ok := kept.([]bearing); ok {
		return b
	}
	out := make([]bearing, n)
	for k := range out {
		t := 2 * math.Pi * float64(k) / float64(n)
		out[k] = bearing{Pt{math.Cos(t), math.Sin(t)}, math.Abs(math.Sin(2 * t))}
	}
	allBearings.Store(n, out)
	return out
}

// allBearings are bounded by the widest sheet: a ring reaches no further.
var allBearings sync.Map
