package drawing

import (
	"fmt"
	"slices"

	"chargewright/system"
)

// Widths that pictures are drawn at [px]: phone, large phone, tablet column,
// wide screen and paper. Any width from Narrowest on will do.
const (
	Narrowest = 320
	Phone     = 366
	PhoneWide = 390
	Tablet    = 622
	Wide      = 984
	Widest    = 2000
)

// Type sizes [px]; none is ever smaller than smallest.
const (
	smallest = 14.0
	large    = 15.0
)

const (
	uprightUnder = 560 // a sheet narrower than this [px] is turned
	edge         = 10  // free at the sheet's sides [px]
	dotHalf      = 4.0 // of a test point [px]
)

// Sheet is the circuit of a system at one width, as it is without a hook-up.
// It does not change, and may be used from several goroutines.
type Sheet struct {
	sys     *system.System
	plan    *system.Drawing
	bounds  Rect // what may be drawn on; the legend comes under it
	upright bool // turned: x of the plan runs down
	size    float64
	close   float64 // width of a close-up's picture [px], 0 = the sheet's
	unit    Pt      // px for one unit of the plan along the sheet's x and y

	at     map[string]Pt // of points
	runs   []run
	marks  []mark
	edges  [][]Pt // boundaries: the plan's outlines, then the alternator
	rails  []rail
	labels []placed
	found  *foundLeads
	laid   *latest[*overlay]

	finished *latest[Picture]

	bridge            Pt // middles of devices
	belt, bank, watch *Pt
	regulator         Rect
	machine           Rect
	second            *plant // a second alternator; nil = none
}

// run is an element as it lies on the sheet.
type run struct {
	e     *system.Element
	route system.Route
	line  []Pt
	half  float64 // of the symbol, along the line [px]
	mid   Pt      // of the symbol
	dir   Pt
	sw    *Pt // where a load's own switch stands
	swDir Pt
	room  float64 // how far inside a view it is seen
}

// mark is a symbol of the sheet: its box is taken.
type mark struct {
	kind, of string
	box      Rect
}

type rail struct {
	point, name string
	a, b        Pt
}

// New lays a system out at a width.
func New(sys *system.System, width int) (*Sheet, error) {
	if width < Narrowest || width > Widest {
		return nil, tooNarrow(width)
	}
	plan, at := sys.Drawing, map[string]system.XY{}
	if plan == nil {
		plan, at = automatic(sys)
	} else {
		for _, p := range sys.Points {
			at[p.ID] = system.XY{X: p.X, Y: p.Y}
		}
	}
	for stretch := 1.0; ; stretch *= 1.12 {
		s := lay(sys, plan, at, float64(width), stretch)
		if s.nameAll() {
			return s, nil
		}
		if stretch > 4 {
			return nil, fmt.Errorf("the points of system %s stand too close together to be numbered at %d px: move them apart, or draw it wider", sys.ID, width)
		}
	}
}

// lay puts points, wires and symbols on a sheet. Stretch makes it higher.
func lay(sys *system.System, plan *system.Drawing, at map[string]system.XY, width, stretch float64) *Sheet {
	s := &Sheet{sys: sys, plan: plan, upright: width < uprightUnder, size: smallest, at: map[string]Pt{}, found: &foundLeads{}, laid: newLatest[*overlay](mostLaid), finished: newLatest[Picture](mostFinished)}
	if width >= 800 {
		s.size = large
	}
	across, down := plan.Width, plan.Height
	if s.upright {
		across, down = down, across
	}
	s.unit.X = (width - 2*edge) / across
	// A wide sheet is kept lower than its shape so that it fits a screen; one
	// that is turned is drawn longer, since it scrolls.
	switch {
	case s.upright:
		s.unit.Y = s.unit.X * 1.32
	case width >= 800:
		s.unit.Y = s.unit.X * 0.76
	default:
		s.unit.Y = s.unit.X * 1.01
	}
	s.unit.Y *= stretch
	s.bounds = Rect{0, 0, width, 2*edge + down*s.unit.Y}
	for id, p := range at {
		s.at[id] = s.px(p)
	}
	s.layRuns(at)
	s.layRails()
	s.layBoxes()
	return s
}

// px is where a place of the plan lies on the sheet.
func (s *Sheet) px(p system.XY) Pt {
	if s.upright {
		p.X, p.Y = p.Y, p.X
	}
	return Pt{edge + p.X*s.unit.X, edge + p.Y*s.unit.Y}
}

func (s *Sheet) boxOf(b system.Box) Rect { return around(s.px(b.From), s.px(b.To)) }

func (s *Sheet) layRuns(at map[string]system.XY) {
	for i := range s.sys.Elements {
		e := &s.sys.Elements[i]
		if e.Kind == system.Gap {
			continue
		}
		r := run{e: e, route: s.plan.Route(e)}
		for _, p := range s.plan.Path(e, at) {
			r.line = append(r.line, s.px(p))
		}
		var length float64
		r.mid, r.dir, length = longest(r.line)
		if r.route.At != nil {
			r.mid, r.dir, _ = nearestOn(r.line, s.px(*r.route.At))
		}
		sh := shapes[r.route.Symbol]
		r.half = min(sh.half, length/2)
		if s.mayBeSeries(e) { // kept free for the ammeter
			sh = shape{along: 2 * seriesRadius, across: 2 * seriesRadius}
		}
		if sh.along > 0 {
			s.mark(string(r.route.Symbol), e.ID, sh.box(r.mid, r.dir))
		}
		if e.Off {
			s.laySwitch(&r)
		}
		if r.route.Frame {
			end := r.line[len(r.line)-1]
			_, dir, _ := nearestOn(r.line, end)
			s.mark("frame", e.ID, frameBox(end, dir))
		}
		s.runs = append(s.runs, r)
	}
}

// mayBeSeries says whether some position of a place puts an ammeter in series
// with the element.
func (s *Sheet) mayBeSeries(e *system.Element) bool {
	for _, p := range s.sys.Rig.Places {
		for _, q := range p.Positions {
			for _, set := range q.Sets {
				if set.Element == e.ID && set.Add > 0 && e.Kind == system.Joint {
					return true
				}
			}
		}
	}
	return false
}

// laySwitch finds room for the switch of a load that is normally off: where the
// plan says, or between the load's first point and its symbol.
func (s *Sheet) laySwitch(r *run) {
	_, _, far := nearestOn(r.line, r.mid)
	before, _ := cut(r.line, far-r.half, far)
	spot, dir, length := longest(before)
	if r.route.Switch != nil {
		spot, dir, _ = nearestOn(r.line, s.px(*r.route.Switch))
	} else if length < 2*switchHalf {
		return
	}
	r.sw, r.swDir = &spot, dir
	s.mark("switch", r.e.ID, shapes[system.Contact].box(spot, dir))
}

func (s *Sheet) layRails() {
	for _, r := range s.plan.Rails {
		s.rails = append(s.rails, rail{r.Point, r.Name, s.px(r.From), s.px(r.To)})
	}
	for _, o := range s.plan.Outlines {
		b := s.boxOf(o.Box)
		line := []Pt{{b.X0, b.Y0}, {b.X1, b.Y1}}
		if b.w() > 0 && b.h() > 0 {
			line = outline(b)
		}
		s.edges = append(s.edges, line)
	}
}

func outline(b Rect) []Pt {
	return []Pt{{b.X0, b.Y0}, {b.X1, b.Y0}, {b.X1, b.Y1}, {b.X0, b.Y1}, {b.X0, b.Y0}}
}

func (s *Sheet) layBoxes() {
	s.regulator, s.machine = s.boxOf(s.plan.Regulator), s.boxOf(s.plan.Machine.Box)
	s.bridge = s.px(s.plan.Machine.Bridge)
	for _, d := range []struct {
		to *(*Pt)
		at *system.XY
	}{{&s.belt, s.plan.Belt}, {&s.bank, s.plan.Bank}, {&s.watch, s.plan.Watch}} {
		if d.at != nil {
			at := s.px(*d.at)
			*d.to = &at
		}
	}
	s.edges = append(s.edges, outline(s.machine))
	s.laySecond()
	for _, p := range s.plants() {
		s.mark(p.prefix+"rectifier", "", s.bridgeBox(p))
		s.mark(p.prefix+"rotor", "", s.rotorBox(p))
	}
	for _, c := range s.accumulators() {
		s.mark(c.of, "", c.box())
		for _, p := range c.signs() {
			s.mark("sign", "", p.sized(11, 13))
		}
	}
	for _, b := range s.splitterBoxes() {
		s.mark("splitter", "", b)
	}
	for _, b := range s.relayBoxes() {
		s.mark("relay", "", b)
	}
	if s.belt != nil {
		s.mark("belt", "", s.belt.sized(beltWidth, beltHeight))
	}
}

// shifted is the sheet moved over its paper.
func (s *Sheet) shifted(d Pt) *Sheet {
	t := *s
	move := func(l []Pt) []Pt {
		out := make([]Pt, len(l))
		for i, p := range l {
			out[i] = p.add(d)
		}
		return out
	}
	moved := func(p *Pt) *Pt {
		if p == nil {
			return nil
		}
		q := p.add(d)
		return &q
	}
	t.bounds, t.regulator, t.machine, t.bridge = s.bounds.moved(d), s.regulator.moved(d), s.machine.moved(d), s.bridge.add(d)
	t.second = s.second.moved(d)
	t.belt, t.bank, t.watch = moved(s.belt), moved(s.bank), moved(s.watch)
	t.at = map[string]Pt{}
	for id, p := range s.at {
		t.at[id] = p.add(d)
	}
	t.runs, t.marks, t.edges, t.rails, t.labels = slices.Clone(s.runs), slices.Clone(s.marks), nil, nil, nil
	for i := range t.runs {
		r := &t.runs[i]
		r.line, r.mid, r.sw = move(r.line), r.mid.add(d), moved(r.sw)
	}
	for i := range t.marks {
		t.marks[i].box = t.marks[i].box.moved(d)
	}
	for _, e := range s.edges {
		t.edges = append(t.edges, move(e))
	}
	for _, r := range s.rails {
		t.rails = append(t.rails, rail{r.point, r.name, r.a.add(d), r.b.add(d)})
	}
	return &t
}

func (s *Sheet) mark(kind, of string, box Rect) {
	s.marks = append(s.marks, mark{kind, of, box})
}

func (s *Sheet) find(kind string) (Rect, bool) {
	for _, m := range s.marks {
		if m.kind == kind && m.of == "" {
			return m.box, true
		}
	}
	return Rect{}, false
}

func (s *Sheet) run(element string) *run {
	for i := range s.runs {
		if s.runs[i].e.ID == element {
			return &s.runs[i]
		}
	}
	return nil
}
