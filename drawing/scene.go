// Package drawing makes the drawn circuit of a system: where the vehicle's
// parts and test points stand, what is at battery volts in a hook-up, what is
// off, where the meter's leads go. One scene serves page, paper and phone.
//
// A scene is lines, shapes and words with classes and no colours; SVG and PDF
// are two ways of writing it down. The package refuses a width at which words
// could not be read. It touches no file and measures nothing electrical: what
// is at battery volts follows from what hangs on the battery's post.
//
// Open sheet.go first: a sheet is the circuit at one width, the same for every
// hook-up; draw.go lays a hook-up over it.
package drawing

// Scene is a finished picture. Its groups are painted in order; the rest says
// what stands where, for whoever wants to check it.
type Scene struct {
	Name        string // begins every id in the SVG; unique among the pictures of a page
	W, H        float64
	Title, Desc string
	Groups      []*Group

	Labels  []Label
	Symbols []Mark
	Wires   []Wire
	Cables  []Cable
	Points  []Spot

	window *Rect // what is being painted is seen in here only; nil = everywhere
}

// Group is one layer of the picture.
type Group struct {
	Name  string
	Clip  *Rect // nothing of it is shown outside
	Items []Item

	written string // the first items as SVG, where they are kept so and no other way
}

// Item is a shape, or words where Text is not empty.
type Item struct {
	Class Class
	Path  Path
	Text  string
	At    Pt      // of words: the base line's start, middle or end
	Size  float64 // of words [px]
	Align Align
	Of    string // what it stands for, as the data calls it; empty = nothing by itself
}

// Align says what At is of a line of words.
type Align int

// Alignments.
const (
	Start Align = iota
	Middle
	End
)

// Path is what a pen does.
type Path []Step

// Step is one stroke: Op M moves, L draws a line, C a Bézier curve with two
// handles, Z closes.
type Step struct {
	Op byte
	P  [3]Pt
}

func lines(pts ...Pt) Path {
	var out Path
	for i, p := range pts {
		op := byte('L')
		if i == 0 {
			op = 'M'
		}
		out = append(out, Step{Op: op, P: [3]Pt{p}})
	}
	return out
}

func closed(pts ...Pt) Path { return append(lines(pts...), Step{Op: 'Z'}) }

func rect(r Rect) Path {
	return closed(Pt{r.X0, r.Y0}, Pt{r.X1, r.Y0}, Pt{r.X1, r.Y1}, Pt{r.X0, r.Y1})
}

// round is the handle's length for a quarter of a unit circle.
const round = 0.5522847498

func ellipse(c Pt, rx, ry float64) Path {
	a, b := rx*round, ry*round
	p := func(x, y float64) Pt { return Pt{c.X + x, c.Y + y} }
	return Path{
		{Op: 'M', P: [3]Pt{p(rx, 0)}},
		{Op: 'C', P: [3]Pt{p(rx, b), p(a, ry), p(0, ry)}},
		{Op: 'C', P: [3]Pt{p(-a, ry), p(-rx, b), p(-rx, 0)}},
		{Op: 'C', P: [3]Pt{p(-rx, -b), p(-a, -ry), p(0, -ry)}},
		{Op: 'C', P: [3]Pt{p(a, -ry), p(rx, -b), p(rx, 0)}},
		{Op: 'Z'},
	}
}

func circle(c Pt, r float64) Path { return ellipse(c, r, r) }

// Bounds is the smallest rectangle that holds the path's corners and handles.
func (p Path) Bounds() Rect {
	r := around()
	for _, s := range p {
		switch s.Op {
		case 'M', 'L':
			r = r.joined(around(s.P[0]))
		case 'C':
			r = r.joined(around(s.P[:]...))
		}
	}
	return r
}

func (p Path) mapped(f func(Pt) Pt) Path {
	out := make(Path, len(p))
	for i, s := range p {
		out[i] = Step{s.Op, [3]Pt{f(s.P[0]), f(s.P[1]), f(s.P[2])}}
	}
	return out
}

// LabelKind says what a label is.
type LabelKind string

// Kinds of label.
const (
	Number LabelKind = "number" // circled number of a test point
	Name   LabelKind = "name"   // what a part is called
	Flag   LabelKind = "flag"   // "plug off", white on black
	Letter LabelKind = "letter" // square letter of a likely cause
	Tag    LabelKind = "tag"    // names a lead or a meter
	Stage  LabelKind = "stage"  // number of the hook-up line that the ring shows
	Legend LabelKind = "legend"
)

// Label is words with the room that they take.
type Label struct {
	Kind LabelKind
	Of   string // point, element, place or cause that it names
	Text string
	Box  Rect
	Size float64 // height of the type [px]
}

// Mark is a symbol with the room that it takes.
type Mark struct {
	Kind string // lamp, fuse, meter, clamp …
	Of   string
	Box  Rect
}

// Wire is how an element runs over the sheet.
type Wire struct {
	Element string
	Line    []Pt
	Live    bool // at battery volts: drawn heavy
	Off     bool // opened by a place: drawn dashed

	// Where it does not conduct (a load, an open switch), its line is heavy on
	// the sides that are at battery volts, up to its symbol.
	FromLive, ToLive bool
}

// Cable is a lead, a jumper or a bypass lead: not part of the vehicle.
type Cable struct {
	Kind  string // red, black, jumper
	Of    string // the point that its end is on
	Mark  string // of a lead: the number of its meter's box, or of several; empty = the only one
	Line  []Pt
	Half  float64 // half its width with casing [px]
	Probe []Pt    // corners of the probe at its end
}

// Spot is a test point on the sheet.
type Spot struct {
	Point  string
	Number int
	At     Pt
}

// group is the layer of a name within the window that is being painted.
func (s *Scene) group(name string) *Group {
	for _, g := range s.Groups {
		if g.Name == name && g.Clip == s.window {
			return g
		}
	}
	g := &Group{Name: name, Clip: s.window}
	s.Groups = append(s.Groups, g)
	return g
}

func (g *Group) add(items ...Item) { g.Items = append(g.Items, items...) }
