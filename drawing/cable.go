package drawing

import (
	"math"
	"slices"
	"sync"
)

// Cables (the meter's leads, jumpers) are not the vehicle's own and do not run
// square: they take the way that covers least, found on a grid by A* (Hart,
// Nilsson and Raphael 1968), pulled straight and rounded.

const (
	cell      = 5.0 // of the grid [px]
	overMark  = 9.0 // cost of a px over a symbol or a point
	overWire  = 2.5
	overCable = 12.0
	overWords = 400.0
)

// ground is a cost for each cell of the sheet.
type terrain struct {
	bounds Rect
	w, h   int
	cost   []float32
}

// terrain rates the field for something half wide [px].
func (f *field) terrain(half float64) *terrain {
	t := &terrain{bounds: f.bounds, w: int(f.bounds.w()/cell) + 1, h: int(f.bounds.h()/cell) + 1}
	t.cost = make([]float32, t.w*t.h)
	for i := range t.cost {
		t.cost[i] = 1
		if !t.mid(i).box(half + 2).in(f.bounds) {
			t.cost[i] = overWords
		}
	}
	for _, l := range f.lines {
		c := overWire
		if l.weak {
			c = 0.3
		}
		t.raise(around(l.a, l.b).grown(l.half+1), c)
	}
	t.hold(f.boxes, f.cables, half)
	return t
}

// with is the terrain with more boxes and cables on it.
func (t *terrain) with(boxes []taken, cables [][]Pt, half float64) *terrain {
	more := *t
	more.cost = slices.Clone(t.cost)
	more.hold(boxes, cables, half)
	return &more
}

// hold raises the ground under boxes and cables: where several lie over each
// other the dearest counts, in whatever order they come.
func (t *terrain) hold(boxes []taken, cables [][]Pt, half float64) {
	for _, b := range boxes {
		c := overWords
		if b.mark {
			c = overMark
		}
		t.raise(b.box.grown(half+1), c)
	}
	for _, c := range cables {
		legs(c, func(a, b, _ Pt, n float64) {
			for s := 0.0; s <= n; s += cell {
				t.raise(a.to(b, s/n).box(half+7), overCable)
			}
		})
	}
}

func (t *terrain) raise(r Rect, c float64) {
	x0, x1 := t.col(r.X0+cell/2), t.col(r.X1-cell/2)
	y0, y1 := t.row(r.Y0+cell/2), t.row(r.Y1-cell/2)
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			if i := y*t.w + x; t.cost[i] < float32(c) {
				t.cost[i] = max(float32(c), 1)
				if c < 1 {
					t.cost[i] = 1 + float32(c)
				}
			}
		}
	}
}

func (t *terrain) col(x float64) int { return max(0, min(t.w-1, int((x-t.bounds.X0)/cell))) }
func (t *terrain) row(y float64) int { return max(0, min(t.h-1, int((y-t.bounds.Y0)/cell))) }
func (t *terrain) at(p Pt) int       { return t.row(p.Y)*t.w + t.col(p.X) }
func (t *terrain) mid(i int) Pt {
	return Pt{t.bounds.X0 + (float64(i%t.w)+0.5)*cell, t.bounds.Y0 + (float64(i/t.w)+0.5)*cell}
}

// along is what a straight line costs.
func (t *terrain) along(a, b Pt) float64 {
	n := a.far(b)
	steps := max(1, int(n/(cell/2)))
	c := 0.0
	for k := range steps {
		c += float64(t.cost[t.at(a.to(b, (float64(k)+0.5)/float64(steps)))])
	}
	return c * n / float64(steps)
}

// end is a way to begin or end a cable: its last piece is straight, so that a
// probe or a clip can lie on it.
type end struct {
	tip, tail Pt
	cost      float64
}

// search is one run of A*.
type search struct {
	*terrain
	to    []end
	ahead []float64 // guess of each cell; negative = not asked for yet
	best  []float32 // cheapest way to each cell so far
	back  []int32
	start []int16 // which end begins in a cell, from 1
	goal  []int16 // and which of the others ends there
	done  float64 // what costs as much is not looked at
	q     queue
}

// searches are those that have ended: what they have room for serves the next.
var searches = sync.Pool{New: func() any { return &search{} }}

// begin clears a search for a terrain.
func (s *search) begin(t *terrain, to []end, done float64) {
	s.terrain, s.to, s.done, s.q = t, to, done, s.q[:0]
	n := len(t.cost)
	if cap(s.best) < n {
		s.ahead, s.best, s.back = make([]float64, n), make([]float32, n), make([]int32, n)
		s.start, s.goal = make([]int16, n), make([]int16, n)
	}
	s.ahead, s.best, s.back, s.start, s.goal = s.ahead[:n], s.best[:n], s.back[:n], s.start[:n], s.goal[:n]
	for i := range s.best {
		s.best[i], s.ahead[i] = math.MaxFloat32, -1
	}
	clear(s.start)
	clear(s.goal)
}

// end gives the room back.
func (s *search) end() {
	s.terrain, s.to = nil, nil
	searches.Put(s)
}

// mark notes which of some ends is the cheapest in each cell.
func (s *search) mark(in []int16, ends []end, first func(i int, e end)) {
	for k, e := range ends {
		i := s.at(e.tail)
		if o := in[i]; o == 0 || e.cost < ends[o-1].cost {
			in[i] = int16(k + 1)
			first(i, e)
		}
	}
}

// guess is the least that the rest can cost.
func (s *search) guess(i int) float64 {
	if s.ahead[i] < 0 {
		d := math.Inf(1)
		at := s.mid(i)
		for _, e := range s.to {
			dx, dy, room := e.tail.X-at.X, e.tail.Y-at.Y, d-e.cost
			if room > 0 && dx*dx+dy*dy <= room*room*(1+1e-9) { // else it cannot be the nearest, and needs no root
				d = min(d, at.far(e.tail)+e.cost)
			}
		}
		s.ahead[i] = max(0, d-cell)
	}
	return s.ahead[i]
}

func (s *search) reach(j, from int, g float64) {
	if float32(g) < s.best[j]-1e-3 {
		s.best[j], s.back[j] = float32(g), int32(from)
		if f := g + s.guess(j); f < s.done {
			s.q.push(node{j, f, g})
		}
	}
}

// slack is how much dearer a way through cells may be than the same pulled
// straight: in steps to eight sides 1.08 at most, and something for the ends.
const slack = 1.15

// way finds the cheapest cable from one of some ends to one of others, tails
// included; a and b say which. Nil where it costs more than most, or an end is
// missing.
func (t *terrain) way(from, to []end, most float64) (line []Pt, a, b int) {
	if len(from) == 0 || len(to) == 0 {
		return nil, 0, 0
	}
	s, _ := searches.Get().(*search) // nothing else is put there
	defer s.end()
	s.begin(t, to, slack*most+2*cell)
	s.mark(s.start, from, func(i int, e end) { s.reach(i, -1, e.cost) })
	s.mark(s.goal, to, func(int, end) {})
	last := -1
	for len(s.q) > 0 {
		n := s.q.pop()
		if n.f >= s.done {
			break
		}
		if k := s.goal[n.i]; k > 0 && n.g+to[k-1].cost < s.done {
			last, s.done = n.i, n.g+to[k-1].cost
		}
		if float32(n.g) <= s.best[n.i]+1e-3 {
			s.spread(n)
		}
	}
	if last < 0 {
		return nil, 0, 0
	}
	var cells []Pt
	i := last
	for ; s.back[i] >= 0; i = int(s.back[i]) {
		cells = append(cells, t.mid(i))
	}
	a, b = int(s.start[i])-1, int(s.goal[last])-1
	cells = append(cells, from[a].tail)
	slices.Reverse(cells)
	if len(cells) == 1 {
		cells = append(cells, to[b].tail)
	}
	cells[len(cells)-1] = to[b].tail
	return t.straight(cells), a, b
}

// spread goes on to the eight cells around.
func (s *search) spread(n node) {
	x, y := n.i%s.w, n.i/s.w
	for dy := max(-1, -y); dy <= min(1, s.h-1-y); dy++ {
		for dx := max(-1, -x); dx <= min(1, s.w-1-x); dx++ {
			if dx == 0 && dy == 0 {
				continue
			}
			j, far := n.i+dy*s.w+dx, cell
			if dx != 0 && dy != 0 {
				far *= math.Sqrt2
			}
			s.reach(j, n.i, n.g+far*float64(s.cost[n.i]+s.cost[j])/2)
		}
	}
}

// straight pulls a way through cells straight where that costs no more.
func (t *terrain) straight(cells []Pt) []Pt {
	run := make([]float64, len(cells))
	for i := 1; i < len(cells); i++ {
		run[i] = run[i-1] + t.along(cells[i-1], cells[i])
	}
	out := []Pt{cells[0]}
	for i := 0; i < len(cells)-1; {
		j := i + 1
		for k := len(cells) - 1; k > i+1; k-- {
			if t.along(cells[i], cells[k]) <= run[k]-run[i]+0.5 {
				j = k
				break
			}
		}
		out = append(out, cells[j])
		i = j
	}
	return out
}

// rounded draws a way with round corners; each bend takes at most half of its
// legs. It returns the drawn curve and the same as a fine polyline.
func rounded(line []Pt, radius float64) (Path, []Pt) {
	p := Path{{Op: 'M', P: [3]Pt{line[0]}}}
	fine := []Pt{line[0]}
	for i := 1; i+1 < len(line); i++ {
		a, c, b := line[i-1], line[i], line[i+1]
		r := min(radius, a.far(c)/2, c.far(b)/2)
		in, out := c.along(a.sub(c).unit(), r), c.along(b.sub(c).unit(), r)
		h1, h2 := in.to(c, round), out.to(c, round)
		p = append(p, Step{Op: 'L', P: [3]Pt{in}}, Step{Op: 'C', P: [3]Pt{h1, h2, out}})
		for k := 0; k <= 6; k++ {
			fine = append(fine, bezier(in, h1, h2, out, float64(k)/6))
		}
	}
	last := line[len(line)-1]
	return append(p, Step{Op: 'L', P: [3]Pt{last}}), append(fine, last)
}

func bezier(a, b, c, d Pt, t float64) Pt {
	ab, bc, cd := a.to(b, t), b.to(c, t), c.to(d, t)
	return ab.to(bc, t).to(bc.to(cd, t), t)
}
