package drawing

import (
	"container/heap"
	"math"
	"slices"
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
	for _, b := range f.boxes {
		c := overWords
		if b.mark {
			c = overMark
		}
		t.raise(b.box.grown(half+1), c)
	}
	for _, l := range f.lines {
		c := overWire
		if l.weak {
			c = 0.3
		}
		t.raise(around(l.a, l.b).grown(l.half+1), c)
	}
	for _, c := range f.cables {
		legs(c, func(a, b, _ Pt, n float64) {
			for s := 0.0; s <= n; s += cell {
				t.raise(a.to(b, s/n).box(half+7), overCable)
			}
		})
	}
	return t
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

type node struct {
	i    int
	f, g float64
}

type queue []node

func (q queue) Len() int           { return len(q) }
func (q queue) Less(i, j int) bool { return q[i].f < q[j].f || q[i].f == q[j].f && q[i].i < q[j].i }
func (q queue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)        { *q = append(*q, x.(node)) } //nolint:errcheck // heap only pushes nodes
func (q *queue) Pop() any {
	old := *q
	x := old[len(old)-1]
	*q = old[:len(old)-1]
	return x
}

// search is one run of A*.
type search struct {
	*terrain
	to   []end
	best []float32 // cheapest way to each cell so far
	back []int32
	q    queue
}

// guess is the least that the rest can cost.
func (s *search) guess(i int) float64 {
	d := math.Inf(1)
	for _, e := range s.to {
		d = min(d, s.mid(i).far(e.tail)+e.cost)
	}
	return max(0, d-cell)
}

func (s *search) reach(j, from int, g float64) {
	if float32(g) < s.best[j]-1e-3 {
		s.best[j], s.back[j] = float32(g), int32(from)
		heap.Push(&s.q, node{j, g + s.guess(j), g})
	}
}

// way finds the cheapest cable from one of some ends to one of others, tails
// included; a and b say which. With ends on both sides it always finds one.
func (t *terrain) way(from, to []end) (line []Pt, a, b int) {
	if len(from) == 0 || len(to) == 0 {
		return nil, 0, 0
	}
	s := &search{terrain: t, to: to, best: make([]float32, len(t.cost)), back: make([]int32, len(t.cost))}
	for i := range s.best {
		s.best[i] = math.MaxFloat32
	}
	start, goal := map[int]int{}, map[int]int{}
	for k, e := range from {
		i := t.at(e.tail)
		if o, seen := start[i]; !seen || e.cost < from[o].cost {
			start[i] = k
			s.reach(i, -1, e.cost)
		}
	}
	for k, e := range to {
		i := t.at(e.tail)
		if o, seen := goal[i]; !seen || e.cost < to[o].cost {
			goal[i] = k
		}
	}
	last, done := 0, math.Inf(1)
	for len(s.q) > 0 {
		n := heap.Pop(&s.q).(node) //nolint:errcheck // the heap holds nodes only
		if n.f >= done {
			break
		}
		if k, is := goal[n.i]; is && n.g+to[k].cost < done {
			last, done = n.i, n.g+to[k].cost
		}
		if float32(n.g) <= s.best[n.i]+1e-3 {
			s.spread(n)
		}
	}
	var cells []Pt
	i := last
	for ; s.back[i] >= 0; i = int(s.back[i]) {
		cells = append(cells, t.mid(i))
	}
	a, b = start[i], goal[last]
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
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			if dx == 0 && dy == 0 || x+dx < 0 || y+dy < 0 || x+dx >= s.w || y+dy >= s.h {
				continue
			}
			j := n.i + dy*s.w + dx
			s.reach(j, n.i, n.g+cell*math.Hypot(float64(dx), float64(dy))*float64(s.cost[n.i]+s.cost[j])/2)
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
