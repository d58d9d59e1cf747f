package system

// Drawing says where things stand on the sheet: x to the right, y down, in
// units of the system file. Points stand at their own X, Y. A system without a
// drawing is laid out by package drawing itself.
type Drawing struct {
	Width, Height float64
	Machine       MachineBox
	Regulator     Box
	// Of a second machine, where the vehicle has one.
	SecondMachine   MachineBox
	SecondRegulator Box
	Bank            *XY // where the load tester is drawn while it is clipped on
	Watch           *XY // where the watch meter is drawn
	Belt            *XY
	Outlines        []Outline
	Rails           []Rail
	Routes          []Route
	Sides           map[string]Side // where a point's number stands; absent = wherever there is room
}

// XY is a place on the sheet.
type XY struct{ X, Y float64 }

// Box is a rectangle with sides along the sheet's.
type Box struct{ From, To XY }

// MachineBox is the alternator's outline and the middle of its rectifier.
type MachineBox struct {
	Box
	Bridge XY
}

// Outline is something drawn as a boundary, such as a bulkhead: a box, or a
// line where both corners share a coordinate.
type Outline struct {
	Name string
	Box
}

// Rail is a point that is a large piece of metal: engine block, body. Elements
// end anywhere on it.
type Rail struct {
	Point, Name string
	Box
}

// Route is how an element is drawn between its points.
type Route struct {
	Element string
	Symbol  Symbol
	Name    string // written beside it; empty = nothing is
	Via     []XY   // corners, from the element's first point to its second
	At      *XY    // where the symbol stands; absent = in the middle of the longest leg
	Switch  *XY    // where the switch of a load stands that is normally off
	Frame   bool   // ends in a frame mark at the last corner, not at the second point
}

// Symbol is what stands for an element on the drawing.
type Symbol string

// Symbols of elements.
const (
	PlainLine Symbol = "line"
	JointMark Symbol = "joint" // bolted ring or clamp
	Plug      Symbol = "plug"  // pin and socket, blade and push-on
	Fuse      Symbol = "fuse"
	Contact   Symbol = "switch"
	Lamp      Symbol = "lamp"
	Motor     Symbol = "motor"
	Coil      Symbol = "coil"
	Resistor  Symbol = "resistor"
	Ammeter   Symbol = "ammeter"
	Brush     Symbol = "brush"
	Braid     Symbol = "braid"
)

var symbols = []string{
	string(PlainLine), string(JointMark), string(Plug), string(Fuse), string(Contact), string(Lamp),
	string(Motor), string(Coil), string(Resistor), string(Ammeter), string(Brush), string(Braid),
}

// Side is where a point's number stands as seen from the point.
type Side string

// Sides.
const (
	Above      Side = "above"
	Below      Side = "below"
	Left       Side = "left"
	Right      Side = "right"
	AboveLeft  Side = "above-left"
	AboveRight Side = "above-right"
	BelowLeft  Side = "below-left"
	BelowRight Side = "below-right"
)

var sides = []string{
	string(Above), string(Below), string(Left), string(Right),
	string(AboveLeft), string(AboveRight), string(BelowLeft), string(BelowRight),
}

// Rail is the rail that a point is, if it is one.
func (d *Drawing) Rail(point string) *Rail {
	for i := range d.Rails {
		if d.Rails[i].Point == point {
			return &d.Rails[i]
		}
	}
	return nil
}

// Route is how an element is drawn: as the file says, or by its kind.
func (d *Drawing) Route(e *Element) Route {
	for _, r := range d.Routes {
		if r.Element == e.ID {
			if r.Symbol == "" {
				r.Symbol = usual(e.Kind)
			}
			return r
		}
	}
	r := Route{Element: e.ID, Symbol: usual(e.Kind)}
	if e.Kind == Load {
		r.Name = e.Name
	}
	return r
}

func usual(k ElementKind) Symbol {
	switch k {
	case Joint:
		return JointMark
	case Load:
		return Resistor
	}
	return PlainLine
}

// Path is where an element runs, corners included, from its first point to its
// second: a rail is met at the nearest spot of it, and a framed element ends at
// its last corner.
func (d *Drawing) Path(e *Element, at map[string]XY) []XY {
	r := d.Route(e)
	mid := r.Via
	var to XY
	from := d.end(e.From, mid, 0, at)
	if len(mid) > 0 && from == mid[0] {
		mid = mid[1:]
	}
	switch {
	case r.Frame && len(mid) > 0:
		to, mid = mid[len(mid)-1], mid[:len(mid)-1]
	case r.Frame:
		to = from
	default:
		to = d.end(e.To, mid, len(mid)-1, at)
		if len(mid) > 0 && to == mid[len(mid)-1] {
			mid = mid[:len(mid)-1]
		}
	}
	if len(mid) == 0 && !r.Frame { // two points: a rail is met square on
		from, to = d.square(e.From, from, to), d.square(e.To, to, from)
	}
	return append(append([]XY{from}, mid...), to)
}

// end is where an element meets a point, seen from its corner k.
func (d *Drawing) end(point string, via []XY, k int, at map[string]XY) XY {
	rail := d.Rail(point)
	if rail == nil || k < 0 || k >= len(via) {
		return at[point]
	}
	return rail.nearest(via[k])
}

func (d *Drawing) square(point string, own, other XY) XY {
	if rail := d.Rail(point); rail != nil {
		return rail.nearest(other)
	}
	return own
}

// nearest is the spot of a rail that is nearest to p.
func (r Rail) nearest(p XY) XY {
	return XY{
		X: max(min(r.From.X, r.To.X), min(max(r.From.X, r.To.X), p.X)),
		Y: max(min(r.From.Y, r.To.Y), min(max(r.From.Y, r.To.Y), p.Y)),
	}
}
