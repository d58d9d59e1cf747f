package drawing

import (
	"math"

	"chargewright/system"
)

// Symbols are drawn after the descriptions in IEC 60617 (memory): lamp a circle
// with a cross, machine and meter a circle with a letter, fuse a rectangle with
// the line through it, coil half circles, pin filled and socket an arc. A joint
// is our own mark: a capsule on the line.

// shape is the room that a symbol takes: along its line and across it; half is
// what the line leaves out on each side of the middle.
type shape struct {
	along, across, half float64
}

const (
	switchHalf = 13.0
	discRadius = 12.5
	// of an ammeter in series with a joint: it fits between the joint's points
	seriesRadius = 10.5
)

var shapes = map[system.Symbol]shape{
	system.PlainLine: {},
	system.JointMark: {14, 9, 0},
	system.Plug:      {20, 13, 7},
	system.Fuse:      {26, 11, 0},
	system.Contact:   {2 * switchHalf, 20, switchHalf},
	system.Lamp:      {19, 19, 0},
	system.Motor:     {2 * discRadius, 2 * discRadius, 0},
	system.Coil:      {40, 14, 20},
	system.Resistor:  {28, 11, 0},
	system.Ammeter:   {2 * discRadius, 2 * discRadius, 0},
	system.Brush:     {11, 9, 0},
	system.Braid:     {24, 9, 0},
}

func (sh shape) box(mid, dir Pt) Rect {
	p := pen{mid, dir}
	left, right := sh.across/2, sh.across/2
	if sh == shapes[system.Contact] { // its blade stands on one side
		p, left, right = p.upwards(), 11, 4
	}
	return around(p.at(-sh.along/2, -left), p.at(sh.along/2, right))
}

// pen draws in a frame of its own: x along dir, y to its right hand.
type pen struct{ o, dir Pt }

func (p pen) at(x, y float64) Pt { return p.o.along(p.dir, x).along(p.dir.turned(), y) }

// upwards turns a pen whose left hand points down, or right, end for end.
func (p pen) upwards() pen {
	if d := p.at(0, -1).sub(p.o); d.Y > 0.01 || d.Y > -0.01 && d.X > 0 {
		p.dir = p.dir.times(-1)
	}
	return p
}

func (p pen) lines(xy ...float64) Path {
	var pts []Pt
	for i := 0; i+1 < len(xy); i += 2 {
		pts = append(pts, p.at(xy[i], xy[i+1]))
	}
	return lines(pts...)
}

func (p pen) closed(xy ...float64) Path { return append(p.lines(xy...), Step{Op: 'Z'}) }

func (p pen) rect(x0, y0, x1, y1 float64) Path { return p.closed(x0, y0, x1, y0, x1, y1, x0, y1) }

// oval is an ellipse with its half axes along and across.
func (p pen) oval(a, b float64) Path {
	return ellipse(Pt{}, a, b).mapped(func(q Pt) Pt { return p.at(q.X, q.Y) })
}

func (p pen) curve(xy ...float64) Path {
	out := Path{{Op: 'M', P: [3]Pt{p.at(xy[0], xy[1])}}}
	for i := 2; i+5 < len(xy); i += 6 {
		out = append(out, Step{Op: 'C', P: [3]Pt{p.at(xy[i], xy[i+1]), p.at(xy[i+2], xy[i+3]), p.at(xy[i+4], xy[i+5])}})
	}
	return out
}

// symbol draws an element's symbol; the line's own class is given for those
// that carry the line through.
func symbol(kind system.Symbol, mid, dir Pt, line Class, open bool) []Item {
	p := pen{mid, dir}
	switch kind {
	case system.JointMark:
		return []Item{{Class: SymBody, Path: p.capsule(7, 4)}}
	case system.Plug:
		return p.plug(line, open)
	case system.Fuse:
		return []Item{{Class: SymBody, Path: p.rect(-13, -5, 13, 5)}, {Class: line, Path: p.lines(-13, 0, 13, 0)}}
	case system.Contact:
		return p.contact(open)
	case system.Lamp:
		k := 9 * math.Sqrt2 / 2
		return []Item{{Class: SymBody, Path: circle(mid, 9)}, {Class: SymLine, Path: append(p.lines(-k, -k, k, k), p.lines(-k, k, k, -k)...)}}
	case system.Motor:
		return disc(mid, discRadius, "M")
	case system.Ammeter:
		return disc(mid, discRadius, "A")
	case system.Coil:
		return []Item{{Class: SymLine, Path: p.bumps(-20, 20, 5)}}
	case system.Resistor:
		return []Item{{Class: SymBody, Path: p.rect(-14, -5, 14, 5)}}
	case system.Brush:
		return []Item{{Class: SymInk, Path: p.rect(-5, -4.5, 5, 4.5)}}
	case system.Braid:
		return []Item{
			{Class: SymBody, Path: p.rect(-12, -4, 12, 4)},
			{Class: SymLine, Path: append(p.lines(-12, -4, -6, 4, 0, -4, 6, 4, 12, -4), p.lines(-12, 4, -6, -4, 0, 4, 6, -4, 12, 4)...)},
		}
	}
	return nil
}

func disc(mid Pt, radius float64, letter string) []Item {
	return []Item{
		{Class: SymBody, Path: circle(mid, radius)},
		{Class: Caps, Text: letter, At: Pt{mid.X, mid.Y + 0.36*large}, Size: large, Align: Middle},
	}
}

func (p pen) capsule(long, half float64) Path {
	x, k := long-half, half*round
	return append(p.curve(
		-x, -half, -x-k, -half, -long, -k, -long, 0,
		-long, k, -x-k, half, -x, half,
		-x/3, half, x/3, half, x, half,
		x+k, half, long, k, long, 0,
		long, -k, x+k, -half, x, -half), Step{Op: 'Z'})
}

// plug draws pin and socket, parted where the plug is off.
func (p pen) plug(line Class, open bool) []Item {
	apart := 0.0
	if open {
		apart = 3
	}
	k := 5 * round
	socket := p.curve(7+apart, -5.5, 7+apart-k-2, -5.5, 1.5+apart, -k, 1.5+apart, 0, 1.5+apart, k, 7+apart-k-2, 5.5, 7+apart, 5.5)
	items := []Item{
		{Class: SymInk, Path: p.rect(-9-apart, -3.4, -1-apart, 3.4)},
		{Class: SymLine, Path: socket},
	}
	if !open {
		items = append(items, Item{Class: line, Path: p.lines(-1, 0, 2, 0)}, Item{Class: line, Path: p.lines(1.5, 0, 7, 0)})
	}
	return items
}

// contact draws a switch; open, its blade stands off.
func (p pen) contact(open bool) []Item {
	const r = 2.6
	p = p.upwards()
	blade := p.lines(-8, 0, 8, 0)
	if open {
		blade = p.lines(-8, 0, 7.5, -9)
	}
	return []Item{
		{Class: SymLine, Path: append(p.lines(-13, 0, -8-r, 0), p.lines(8+r, 0, 13, 0)...)},
		{Class: SymLine, Path: blade},
		{Class: SymBody, Path: circle(p.at(-8, 0), r)},
		{Class: SymBody, Path: circle(p.at(8, 0), r)},
	}
}

// bumps draws n half circles from x0 to x1, all on the left hand.
func (p pen) bumps(x0, x1 float64, n int) Path {
	d := (x1 - x0) / float64(n)
	r, k := d/2, d/2*round
	out := p.lines(x0, 0)
	for i := range n {
		x := x0 + float64(i)*d
		out = append(out, p.curve(x, 0, x, -k, x+r-k, -r, x+r, -r, x+r+k, -r, x+d, -k, x+d, 0)[1:]...)
	}
	return out
}

func frameBox(end, dir Pt) Rect {
	p := pen{end, dir}
	return around(p.at(-1, -13), p.at(0, 10), p.at(8, 0))
}

// frame draws the mark of a connection to body or engine on the spot.
func frame(end, dir Pt) []Item {
	p := pen{end, dir}
	hatch := p.lines(0, -8, 7, -12)
	hatch = append(hatch, p.lines(0, 0, 7, -4)...)
	hatch = append(hatch, p.lines(0, 8, 7, 4)...)
	return []Item{{Class: SymLine, Path: append(p.lines(0, -9, 0, 9), hatch...)}}
}
