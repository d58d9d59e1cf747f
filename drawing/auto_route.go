package drawing

import (
	"math"

	"chargewright/system"
)

// Routes of an automatic layout run square on a lattice of one unit, found one
// after the other by A* over place and direction. A wire may cross another; it
// runs along one only where both hang on the same point.

const (
	bendCost   = 4.0
	crossCost  = 8.0
	closeCost  = 3.0   // beside a point or a symbol
	sharedCost = 150.0 // along another wire
)

type lattice struct {
	w, h  int
	rough []float64 // cost of standing on a node
	used  [2][]int  // by direction (0 across, 1 down): which point's wires run here, -1 = none
}

// routes draws every element that no gap is.
func (a *autoPlan) routes() {
	l := &lattice{w: int(a.d.Width) + 1, h: int(a.d.Height) + 1}
	l.rough = make([]float64, l.w*l.h)
	for k := range l.used {
		l.used[k] = make([]int, l.w*l.h)
		for i := range l.used[k] {
			l.used[k][i] = -1
		}
	}
	for _, p := range a.at {
		l.raise(p, 1, closeCost)
		l.raise(p, 0, 500)
	}
	boxes := []system.Box{a.d.Machine.Box, a.d.Regulator}
	for _, x := range a.sys.Accumulators() {
		boxes = append(boxes, system.Box{From: add(a.at[x.Positive], -4, 1), To: add(a.at[x.Negative], 4, -1)})
	}
	for _, b := range boxes {
		l.block(b)
	}
	index := map[string]int{}
	for i, p := range a.sys.Points {
		index[p.ID] = i
	}
	for i := range a.sys.Elements {
		e := &a.sys.Elements[i]
		if e.Kind == system.Gap {
			continue
		}
		r := system.Route{Element: e.ID, Via: l.route(a.at[e.From], a.at[e.To], index[e.From], index[e.To])}
		if e.Kind == system.Load {
			r.Name = e.Name
			if e.Median <= meterOhms {
				r.Symbol = system.Ammeter
			}
		}
		a.d.Routes = append(a.d.Routes, r)
	}
}

func add(p system.XY, dx, dy float64) system.XY { return system.XY{X: p.X + dx, Y: p.Y + dy} }

func (l *lattice) raise(p system.XY, around int, cost float64) {
	for dy := -around; dy <= around; dy++ {
		for dx := -around; dx <= around; dx++ {
			if x, y := int(p.X)+dx, int(p.Y)+dy; x >= 0 && y >= 0 && x < l.w && y < l.h {
				l.rough[y*l.w+x] += cost
			}
		}
	}
}

// block keeps wires out of a box, its rim left free for its points.
func (l *lattice) block(b system.Box) {
	for y := int(b.From.Y) + 1; y < int(b.To.Y); y++ {
		for x := int(b.From.X) + 1; x < int(b.To.X); x++ {
			if x >= 0 && y >= 0 && x < l.w && y < l.h {
				l.rough[y*l.w+x] += 40
			}
		}
	}
	for y := int(b.From.Y); y <= int(b.To.Y); y++ {
		for _, x := range []int{int(b.From.X), int(b.To.X)} {
			l.raise(system.XY{X: float64(x), Y: float64(y)}, 0, closeCost)
		}
	}
}

// step is a place on the lattice with the direction it was reached in.
var latticeSteps = [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}

// route finds the corners of one wire and notes where it runs.
func (l *lattice) route(from, to system.XY, a, b int) []system.XY {
	start, goal := int(from.Y)*l.w+int(from.X), int(to.Y)*l.w+int(to.X)
	best := make([]float64, 4*l.w*l.h)
	back := make([]int, len(best))
	for i := range best {
		best[i] = math.Inf(1)
	}
	var q queue
	reach := func(s, before int, g float64) {
		if g < best[s]-1e-9 {
			best[s], back[s] = g, before
			i := s / 4
			d := math.Abs(float64(i%l.w)-to.X) + math.Abs(float64(i/l.w)-to.Y)
			q.push(node{s, g + d, g})
		}
	}
	for d := range 4 {
		reach(start*4+d, -1, 0)
	}
	for len(q) > 0 {
		n := q.pop()
		if n.g > best[n.i]+1e-9 {
			continue
		}
		i, dir := n.i/4, n.i%4
		if i == goal {
			return l.corners(n.i, back, a, b)
		}
		for d, s := range latticeSteps {
			x, y := i%l.w+s[0], i/l.w+s[1]
			if x < 1 || y < 1 || x >= l.w-1 || y >= l.h-1 || d == (dir+2)%4 {
				continue
			}
			j := y*l.w + x
			g := n.g + 1
			if d != dir && i != start {
				g += bendCost
			}
			if j != goal {
				g += l.rough[j]
			}
			g += l.meets(i, j, d%2, a, b)
			reach(j*4+d, n.i, g)
		}
	}
	return nil
}

// meets is what running from one node to the next costs among the wires that
// are there.
func (l *lattice) meets(i, j, dir, a, b int) float64 {
	c := 0.0
	switch u := l.used[dir][j]; {
	case u < 0 || u == a || u == b:
	case l.used[dir][i] == u:
		c += sharedCost
	default:
		c += sharedCost / 4
	}
	if l.used[1-dir][j] >= 0 {
		c += crossCost
	}
	return c
}

// corners walks the way back from the goal.
func (l *lattice) corners(s int, back []int, a, b int) []system.XY {
	var nodes []int
	for ; s >= 0; s = back[s] {
		if i := s / 4; len(nodes) == 0 || nodes[len(nodes)-1] != i {
			nodes = append(nodes, i)
		}
	}
	var via []system.XY
	for k := len(nodes) - 1; k > 0; k-- {
		dir := 0
		if nodes[k]%l.w == nodes[k-1]%l.w {
			dir = 1
		}
		own := a
		if k < len(nodes)/2 {
			own = b
		}
		l.used[dir][nodes[k]], l.used[dir][nodes[k-1]] = own, own
		if k < len(nodes)-1 {
			p, q := nodes[k+1], nodes[k-1]
			if p%l.w != q%l.w && p/l.w != q/l.w {
				via = append(via, system.XY{X: float64(nodes[k] % l.w), Y: float64(nodes[k] / l.w)})
			}
		}
	}
	return via
}
