package drawing_test

import (
	"fmt"
	"math"
	"sync"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"

	"chargewright/drawing"
)

// What every picture must keep, held against it from outside: words are measured
// anew with the font library's own setter, boxes compared with each other.

type faceKey struct {
	size float64
	bold bool
}

var (
	faceLock sync.Mutex
	faces    = map[faceKey]font.Face{}
)

// measure is how wide and high a text is set in the Go fonts [px].
func measure(t testing.TB, s string, size float64, bold bool) (w, up, down float64) {
	t.Helper()
	faceLock.Lock()
	defer faceLock.Unlock()
	k := faceKey{size, bold}
	if faces[k] == nil {
		data := goregular.TTF
		if bold {
			data = gobold.TTF
		}
		f, err := opentype.Parse(data)
		if err != nil {
			t.Fatal(err)
		}
		if faces[k], err = opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone}); err != nil {
			t.Fatal(err)
		}
	}
	b, adv := font.BoundString(faces[k], s)
	return float64(adv) / 64, -float64(b.Min.Y) / 64, float64(b.Max.Y) / 64
}

// share says whether two rectangles share more than a hair.
func share(a, b drawing.Rect) bool {
	const hair = 0.1
	return a.X0+hair < b.X1 && b.X0+hair < a.X1 && a.Y0+hair < b.Y1 && b.Y0+hair < a.Y1
}

func within(a, b drawing.Rect, slack float64) bool {
	return a.X0 >= b.X0-slack && a.Y0 >= b.Y0-slack && a.X1 <= b.X1+slack && a.Y1 <= b.Y1+slack
}

// distance from a point to a rectangle.
func distance(p drawing.Pt, r drawing.Rect) float64 {
	return math.Hypot(max(r.X0-p.X, 0, p.X-r.X1), max(r.Y0-p.Y, 0, p.Y-r.Y1))
}

// nearest is how close a polyline comes to a rectangle, sampled every half px.
func nearest(line []drawing.Pt, r drawing.Rect) float64 {
	d := math.Inf(1)
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		n := int(2*math.Hypot(b.X-a.X, b.Y-a.Y)) + 1
		for k := 0; k <= n; k++ {
			f := float64(k) / float64(n)
			d = min(d, distance(drawing.Pt{X: a.X + f*(b.X-a.X), Y: a.Y + f*(b.Y-a.Y)}, r))
		}
	}
	return d
}

// offences lists what is wrong with a picture's boxes and words.
func offences(t testing.TB, sc *drawing.Scene) (out []string) {
	t.Helper()
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	name := func(l drawing.Label) string { return fmt.Sprintf("%s %q (%s)", l.Kind, l.Text, l.Of) }
	view := drawing.Rect{X1: sc.W, Y1: sc.H}
	for i, l := range sc.Labels {
		for _, o := range sc.Labels[i+1:] {
			if share(l.Box, o.Box) {
				say("%s lies over %s: %v, %v", name(l), name(o), l.Box, o.Box)
			}
		}
		for _, m := range sc.Symbols {
			if share(l.Box, m.Box) {
				say("%s lies over the symbol %s %s: %v, %v", name(l), m.Kind, m.Of, l.Box, m.Box)
			}
		}
		for _, p := range sc.Points {
			if distance(p.At, l.Box) < 3.5 {
				say("%s lies over point %s", name(l), p.Point)
			}
		}
		for _, c := range sc.Cables {
			if d := nearest(c.Line, l.Box); d < c.Half {
				say("%s lies over the %s cable of %s: %.1f px apart", name(l), c.Kind, c.Of, d)
			}
			if d := nearest(append(c.Probe, c.Probe[0]), l.Box); d == 0 {
				say("%s lies over the probe of the %s cable", name(l), c.Kind)
			}
		}
		if !within(l.Box, view, 0) {
			say("%s lies out of the picture: %v", name(l), l.Box)
		}
	}
	for i, m := range sc.Symbols {
		if m.Kind != "meter" {
			continue
		}
		for _, p := range sc.Points {
			if distance(p.At, m.Box) < 1 {
				say("meter %s lies over point %s", m.Of, p.Point)
			}
		}
		for k, o := range sc.Symbols {
			if k != i && share(m.Box, o.Box) {
				say("meter %s lies over the symbol %s %s", m.Of, o.Kind, o.Of)
			}
		}
	}
	return append(out, itemOffences(t, sc, view)...)
}

// itemOffences looks at what is really painted.
func itemOffences(t testing.TB, sc *drawing.Scene, view drawing.Rect) (out []string) {
	t.Helper()
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for _, g := range sc.Groups {
		if g.Clip != nil && !within(*g.Clip, view, 0.1) {
			say("the window %v lies out of the picture", *g.Clip)
		}
		for _, it := range g.Items {
			if it.Text == "" {
				if b := it.Path.Bounds(); g.Clip == nil && len(it.Path) > 0 && !within(b, view, 1) {
					say("%s %s is painted out of the picture: %v", it.Class, it.Of, b)
				}
				continue
			}
			if it.Size < 13.5 {
				say("%q is set in %.1f px", it.Text, it.Size)
			}
			w, up, down := measure(t, it.Text, it.Size, drawing.StyleOf(it.Class).Bold)
			x := it.At.X - w*float64(it.Align)/2
			ink := drawing.Rect{X0: x, Y0: it.At.Y - up, X1: x + w, Y1: it.At.Y + down}
			if g.Clip == nil && !housed(sc, ink) {
				say("%q stands in no label and no symbol: %v", it.Text, ink)
			}
		}
	}
	return out
}

// housed says whether words stand within a label or a symbol.
func housed(sc *drawing.Scene, ink drawing.Rect) bool {
	for _, l := range sc.Labels {
		if within(ink, l.Box, 0.5) {
			return true
		}
	}
	for _, m := range sc.Symbols {
		if within(ink, m.Box, 0.5) {
			return true
		}
	}
	return false
}

// TestCheckerSees: a label that is moved on purpose is found, whatever it is
// moved onto.
func TestCheckerSees(t *testing.T) {
	sys := shipped(t)
	o := drawing.ForProcedure(sys, catalogue(t)["walk-ammeter"], reached(t, sys, "walk-ammeter"), 0)
	fresh := func() *drawing.Scene {
		sc, err := sheet(t, sys, drawing.Tablet).Draw(o)
		if err != nil {
			t.Fatal(err)
		}
		return sc
	}
	if bad := offences(t, fresh()); len(bad) > 0 {
		t.Fatalf("before anything is moved: %v", bad)
	}
	onto := map[string]func(*drawing.Scene) drawing.Pt{
		"another label": func(sc *drawing.Scene) drawing.Pt { return drawing.Pt{X: sc.Labels[9].Box.X0, Y: sc.Labels[9].Box.Y0} },
		"a symbol": func(sc *drawing.Scene) drawing.Pt {
			return drawing.Pt{X: sc.Symbols[3].Box.X0, Y: sc.Symbols[3].Box.Y0}
		},
		"a lead":            func(sc *drawing.Scene) drawing.Pt { return sc.Cables[0].Line[len(sc.Cables[0].Line)/2] },
		"a point":           func(sc *drawing.Scene) drawing.Pt { return sc.Points[5].At },
		"beyond the margin": func(sc *drawing.Scene) drawing.Pt { return drawing.Pt{X: sc.W - 4, Y: 20} },
	}
	for what, to := range onto {
		sc := fresh()
		l, p := &sc.Labels[0], to(sc)
		w, h := l.Box.X1-l.Box.X0, l.Box.Y1-l.Box.Y0
		l.Box = drawing.Rect{X0: p.X, Y0: p.Y, X1: p.X + w, Y1: p.Y + h}
		if len(offences(t, sc)) == 0 {
			t.Errorf("a label moved onto %s is not seen", what)
		}
	}
}
