package drawing

// The devices: alternator, battery, load tester, meters, belt. They are drawn in
// the plan's own lie; on a sheet that is turned they are turned with it.

const (
	beltWidth  = 42.0
	beltHeight = 17.0
	bankWidth  = 20.0
)

// turn places a device drawn about its middle, in the lie of the plan.
func (s *Sheet) turn(mid Pt) func(Pt) Pt {
	return func(p Pt) Pt {
		if s.upright {
			p.X, p.Y = p.Y, p.X
		}
		return mid.add(p)
	}
}

// The rectifier about its middle [px]: rails of + and -, three columns, the
// stator's star on the left.
const (
	bridgeHalfW = 44.0
	bridgeHalfH = 41.0
)

func (s *Sheet) bridgeBox(p plant) Rect {
	put := s.turn(p.bridge)
	return around(put(Pt{-bridgeHalfW, -bridgeHalfH}), put(Pt{bridgeHalfW, bridgeHalfH})).grown(2)
}

// rectifier draws stator and diodes, and joins them to output stud and case;
// live says that the stud is at battery volts.
func (s *Sheet) rectifier(p plant, live bool) []Item {
	mid := p.bridge
	put := s.turn(mid)
	flat := pen{Pt{}, Pt{1, 0}}
	var thin, ink, star Path
	star = append(star, flat.lines(-42, -15, -42, 15)...)
	for i, x := range []float64{-2, 19, 40} {
		y := float64(i-1) * 15
		star = append(star, pen{Pt{0, y}, Pt{1, 0}}.bumps(-42, -14, 4)...)
		thin = append(thin, flat.lines(-14, y, x, y)...)
		thin = append(thin, flat.lines(x, -bridgeHalfH, x, bridgeHalfH)...)
		ink = append(ink, circle(Pt{x, y}, 2.4)...)
		for _, d := range []float64{-28, 28} { // current flows up: towards the + rail
			ink = append(ink, flat.closed(x-5, d+4.5, x+5, d+4.5, x, d-4.5)...)
			thin = append(thin, flat.lines(x-5, d-4.5, x+5, d-4.5)...)
		}
	}
	bus := func(point string, y float64) Path {
		at := s.turn(Pt{})(s.at[point].sub(mid)) // back into the plan's lie
		return append(flat.lines(min(at.X, -2), y, max(at.X, 40), y), flat.lines(at.X, y, at.X, at.Y)...)
	}
	plus := SymLine
	if live {
		plus = LiveLine
	}
	thin = append(thin, bus(p.Machine.Case, bridgeHalfH)...)
	return []Item{
		{Class: plus, Path: bus(p.Machine.Output, -bridgeHalfH).mapped(put), Of: p.prefix + "rectifier"},
		{Class: SymLine, Path: thin.mapped(put), Of: p.prefix + "rectifier"},
		{Class: SymLine, Path: star.mapped(put), Of: p.prefix + "stator"},
		{Class: SymInk, Path: ink.mapped(put), Of: p.prefix + "rectifier"},
	}
}

// rotorEnds are the slip rings.
func (s *Sheet) rotorEnds(p plant) (a, b Pt) { return s.at[p.Machine.RingA], s.at[p.Machine.RingB] }

func (s *Sheet) rotorBox(p plant) Rect {
	a, b := s.rotorEnds(p)
	return shape{along: max(10, a.far(b)-16), across: 20}.box(a.to(b, 0.5), b.sub(a).unit())
}

func (s *Sheet) rotor(of plant) []Item {
	a, b := s.rotorEnds(of)
	dir, half := b.sub(a).unit(), a.far(b)/2
	p := pen{a.to(b, 0.5), dir}
	coil := min(half-8, 22)
	return []Item{{Class: SymLine, Of: of.prefix + "rotor", Path: append(append(
		p.lines(-half, 0, -coil, 0), p.bumps(-coil, coil, 4)...), p.lines(coil, 0, half, 0)...)}}
}

// accumulator is one battery on the sheet: its device and its posts.
type accumulator struct {
	of          string // "battery", "second battery"
	plus, minus string
	a, b        Pt
}

// accumulators are the vehicle's batteries.
func (s *Sheet) accumulators() []accumulator {
	var out []accumulator
	for _, x := range s.sys.Accumulators() {
		out = append(out, accumulator{x.Device, x.Positive, x.Negative, s.at[x.Positive], s.at[x.Negative]})
	}
	return out
}

func (c accumulator) box() Rect {
	return shape{along: 26, across: 38}.box(c.a.to(c.b, 0.5), c.b.sub(c.a).unit())
}

// draw draws two cells between the posts; plus is the class of the line that
// comes from the positive post, minus of the one from the negative.
func (c accumulator) draw(plus, minus Class) []Item {
	half := c.a.far(c.b) / 2
	p := pen{c.a.to(c.b, 0.5), c.b.sub(c.a).unit()}
	long := append(p.lines(-9, -17, -9, 17), p.lines(3, -17, 3, 17)...)
	short := append(p.rect(-5, -9, -1.5, 9), p.rect(7, -9, 10.5, 9)...)
	sign := func(k int, text string) Item {
		return Item{Class: Caps, Text: text, At: c.signs()[k].add(Pt{0, 5}), Size: smallest, Align: Middle}
	}
	out := []Item{
		{Class: plus, Path: p.lines(-half, 0, -9, 0)},
		{Class: minus, Path: p.lines(10, 0, half, 0)},
		{Class: SymLine, Path: long, Of: c.of},
		{Class: SymInk, Path: short, Of: c.of},
	}
	if len(c.signs()) > 0 {
		out = append(out, sign(0, "+"), sign(1, "−"))
	}
	return out
}

// signs are where + and - stand beside the battery, where there is room.
func (c accumulator) signs() []Pt {
	if c.a.far(c.b) < 48 {
		return nil
	}
	p := pen{c.a.to(c.b, 0.5), c.b.sub(c.a).unit()}
	return []Pt{p.at(-19, -15), p.at(19, -15)}
}

// relayEnds are the ends of the relay's coil and its contacts; ok is false where the
// vehicle has none.
func (s *Sheet) relayEnds() (coil, contacts [2]Pt, ok bool) {
	x := s.sys.Relay
	return [2]Pt{s.at[x.CoilPlus], s.at[x.CoilMinus]}, [2]Pt{s.at[x.In], s.at[x.Out]}, x.CoilPlus != ""
}

// relayBoxes are what coil and contacts take up.
func (s *Sheet) relayBoxes() []Rect {
	coil, contacts, ok := s.relayEnds()
	if !ok {
		return nil
	}
	box := func(e [2]Pt) Rect { return shape{along: 22, across: 20}.box(e[0].to(e[1], 0.5), e[1].sub(e[0]).unit()) }
	return []Rect{box(coil), box(contacts)}
}

// relay draws the coil as a box with a slash and the contacts as a blade that stands
// open: whether it pulls is not the drawing's to say.
func (s *Sheet) relay(in, out Class) []Item {
	coil, contacts, ok := s.relayEnds()
	if !ok {
		return nil
	}
	half := coil[0].far(coil[1]) / 2
	p := pen{coil[0].to(coil[1], 0.5), coil[1].sub(coil[0]).unit()}
	winding := append(p.lines(-half, 0, -9, 0), p.rect(-9, -6, 9, 6)...)
	winding = append(append(winding, p.lines(-4, 6, 4, -6)...), p.lines(9, 0, half, 0)...)
	reach := contacts[0].far(contacts[1]) / 2
	q := pen{contacts[0].to(contacts[1], 0.5), contacts[1].sub(contacts[0]).unit()}
	return []Item{
		{Class: SymLine, Path: winding, Of: "relay"},
		{Class: in, Path: q.lines(-reach, 0, -8, 0)},
		{Class: SymLine, Path: q.lines(-8, 0, 7, -8), Of: "relay"},
		{Class: out, Path: q.lines(8, 0, reach, 0)},
	}
}

func (s *Sheet) pulleys() []Item {
	c := *s.belt
	const r1, r2, d = 7.0, 5.0, 13.0
	p := pen{c, Pt{1, 0}}
	return []Item{
		{Class: SymLine, Of: "belt", Path: append(p.lines(-d, -r1, d, -r2), p.lines(-d, r1, d, r2)...)},
		{Class: SymBody, Of: "belt", Path: circle(p.at(-d, 0), r1)},
		{Class: SymBody, Of: "belt", Path: circle(p.at(d, 0), r2)},
		{Class: SymInk, Path: append(circle(p.at(-d, 0), 1.8), circle(p.at(d, 0), 1.6)...)},
	}
}

// across draws something between two points beside their line: out to a side,
// through the middle, back. It returns where the symbol lies.
func across(a, b, mid Pt) (line []Pt, dir Pt) {
	dir = b.sub(a).unit()
	t := func(p Pt) Pt { return p.along(dir, mid.sub(p).X*dir.X+mid.sub(p).Y*dir.Y) } // foot on the a-b direction
	off := mid.sub(t(a))
	return []Pt{a, a.add(off), b.add(off), b}, dir
}

// variable draws a load that can be set: a resistor with an arrow across it.
func variable(mid, dir Pt) []Item {
	p := pen{mid, dir}
	return []Item{
		{Class: SymBody, Path: p.rect(-12, -5, 12, 5)},
		{Class: ArrowLine, Path: p.lines(9, -13, -8, 11)},
		{Class: ArrowHead, Path: p.head(-10.5, 14.5, Pt{-0.58, 0.81}, 8)},
	}
}

// head is an arrow head with its tip at x, y, pointing along d.
func (p pen) head(x, y float64, d Pt, long float64) Path {
	n, w := d.unit(), 0.42*long
	q := n.turned()
	bx, by := x-n.X*long, y-n.Y*long
	return p.closed(x, y, bx+q.X*w, by+q.Y*w, bx-q.X*w, by-q.Y*w)
}
