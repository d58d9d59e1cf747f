package drawing

import (
	"math"
	"slices"

	"chargewright/system"
)

// A system whose file says nothing of where things stand is laid out in layers:
// the alternator on the left, the line from its stud to the battery's positive
// post over the top, the battery on the right, the way back along the foot, and
// what is left over in rows between, each point under the ones it hangs on.
const (
	autoPitchX = 8.5 // between points of a chain's row
	autoPitchY = 9.0 // between its rows
	autoWideX  = 13.0
	autoWideY  = 11.0
	autoLeft   = 40.0
	autoRight  = 86.0
	autoPost   = 93.0 // column of the battery
	autoTop    = 6.0
	machineH   = 21.5
)

// automatic lays a system out.
func automatic(sys *system.System) (*system.Drawing, map[string]system.XY) {
	a := &autoPlan{sys: sys, at: map[string]system.XY{}, d: &system.Drawing{Width: 100, Sides: map[string]system.Side{}}}
	out := a.chain(sys.Machine.Output, sys.Battery.Positive)
	back := a.chain(sys.Battery.Negative, sys.Machine.Case)
	top := a.rows(autoTop, 9, autoRight+2, system.XY{X: autoPitchX, Y: autoPitchY}, out[1:max(1, len(out)-1)])
	a.machine(top)
	rest := a.rest(append(slices.Clone(out), back...))
	foot := max(a.middle(top, rest), top+machineH+autoPitchY)
	foot = a.rowsBack(foot+autoPitchY, back[1:max(1, len(back)-1)])
	a.battery((top + foot) / 2)
	a.d.Height = foot + 9
	a.routes()
	return a.d, a.at
}

type autoPlan struct {
	sys *system.System
	d   *system.Drawing
	at  map[string]system.XY
}

// chain is the shortest way from one point to another, through joints, wires and
// meters where there is one, else through any load; without any, its two ends.
func (a *autoPlan) chain(from, to string) []string {
	for _, loads := range []bool{false, true} {
		back := map[string]string{from: from}
		for queue := []string{from}; len(queue) > 0; queue = queue[1:] {
			for i := range a.sys.Elements {
				e := &a.sys.Elements[i]
				if e.Kind == system.Gap || e.Kind == system.Load && !loads && e.Median > meterOhms {
					continue
				}
				for _, p := range [][2]string{{e.From, e.To}, {e.To, e.From}} {
					if _, seen := back[p[1]]; p[0] == queue[0] && !seen {
						back[p[1]] = p[0]
						queue = append(queue, p[1])
					}
				}
			}
		}
		if _, ok := back[to]; ok {
			out := []string{to}
			for p := to; p != from; p = back[p] {
				out = append(out, back[p])
			}
			slices.Reverse(out)
			return out
		}
	}
	return []string{from, to}
}

// rows sets points in rows from left to right and back; it returns the level
// under the last row.
func (a *autoPlan) rows(y, x0, x1 float64, pitch system.XY, points []string) float64 {
	per := int((x1-x0)/pitch.X) + 1
	for i, p := range points {
		row, k := i/per, i%per
		n := min(per, len(points)-row*per)
		step := (x1 - x0) / float64(max(1, min(per, len(points))-1))
		x := x0 + float64(k)*step
		if row%2 == 1 {
			x = x1 - float64(k)*step
		}
		if n == 1 && row == 0 {
			x = (x0 + x1) / 2
		}
		a.at[p] = system.XY{X: whole(x), Y: y + pitch.Y*float64(row)}
	}
	return y + pitch.Y*float64((len(points)+per-1)/per)
}

// rowsBack sets the way back at the foot, from right to left.
func (a *autoPlan) rowsBack(y float64, points []string) float64 {
	n := a.rows(y, 14, autoRight-2, system.XY{X: autoPitchX, Y: autoPitchY}, points)
	for _, p := range points { // from the right
		at := a.at[p]
		a.at[p] = system.XY{X: whole(14 + autoRight - 2 - at.X), Y: at.Y}
	}
	return n - autoPitchY
}

func whole(x float64) float64 { return math.Round(x) }

// machine sets the alternator and its points below a level.
func (a *autoPlan) machine(y float64) {
	m := a.sys.Machine
	y += 3
	set := func(p string, x, dy float64) { a.at[p] = system.XY{X: x, Y: y + dy} }
	set(m.Output, 9, 0)
	set(m.Case, 9, machineH)
	set(m.RingA, 24, 4)
	set(m.RingB, 24, 14)
	a.d.Machine = system.MachineBox{
		Box:    system.Box{From: system.XY{X: 3, Y: y}, To: system.XY{X: 30, Y: y + machineH}},
		Bridge: system.XY{X: 11.5, Y: y + 10.5},
	}
}

// battery sets the posts one over the other.
func (a *autoPlan) battery(y float64) {
	y = whole(y)
	y -= 5
	if a.sys.Series() {
		y -= 8
	}
	for _, x := range a.sys.Accumulators() {
		a.at[x.Positive] = system.XY{X: autoPost, Y: y}
		a.at[x.Negative] = system.XY{X: autoPost, Y: y + 10}
		y += 16 // room for the link
	}
}

// rest are the points that stand in the middle, nearest to the chains first.
func (a *autoPlan) rest(chains []string) []string {
	m, g := a.sys.Machine, a.sys.Regulator
	done := map[string]bool{m.Output: true, m.Case: true, m.RingA: true, m.RingB: true}
	queue := append(slices.Clone(chains), m.RingA, m.RingB)
	for _, p := range queue {
		done[p] = true
	}
	var out []string
	add := func(p string) {
		if !done[p] {
			done[p] = true
			queue = append(queue, p)
			if p != g.Supply && p != g.Field && p != g.Case { // they stand at the regulator
				out = append(out, p)
			}
		}
	}
	for ; len(queue) > 0; queue = queue[1:] {
		for _, e := range a.sys.Elements {
			if e.Kind == system.Gap {
				continue
			}
			switch queue[0] {
			case e.From:
				add(e.To)
			case e.To:
				add(e.From)
			}
		}
	}
	for _, p := range a.sys.Points {
		add(p.ID)
	}
	return out
}

// middle sets the points between the chains and the regulator; it returns the
// lowest level used.
func (a *autoPlan) middle(y float64, rest []string) float64 {
	foot := a.rows(y+5, autoLeft, autoRight-6, system.XY{X: autoWideX, Y: autoWideY}, rest)
	g := a.sys.Regulator
	from, to := system.XY{X: 58, Y: foot + 2}, system.XY{X: 72, Y: foot + 19}
	a.d.Regulator = system.Box{From: from, To: to}
	for p, at := range map[string]system.XY{
		g.Supply: {X: from.X, Y: from.Y + 4}, g.Field: {X: from.X, Y: from.Y + 13}, g.Case: {X: 65, Y: to.Y},
	} {
		if _, placed := a.at[p]; !placed && !a.fixed(p) {
			a.at[p] = at
		}
	}
	return to.Y
}

// fixed says whether a point is one of the battery's, which are set last.
func (a *autoPlan) fixed(p string) bool {
	return slices.ContainsFunc(a.sys.Accumulators(), func(x system.Accumulator) bool { return p == x.Positive || p == x.Negative })
}
