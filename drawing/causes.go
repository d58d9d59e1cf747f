package drawing

import (
	"slices"
	"strings"
	"sync"

	"chargewright/system"
)

// causes puts the letter of each likely cause where its faults sit.
func (o *overlay) causes() {
	for _, c := range o.o.Causes {
		box, ok := o.site(c)
		if !ok {
			continue
		}
		const h = 21.0
		w := max(h, TextWidth(c.Letter, o.s.size, true)+9)
		near := stemmed(ring(box, 7, 130, 5, w, h), box)
		far := sync.OnceValue(func() []spot { return stemmed(ring(box, 130, o.farthest(), 10, w, h), box) }) // many, and seldom wanted
		restore := o.near(box)
		l := Label{Kind: Letter, Of: strings.Join(c.Faults, " "), Text: c.Letter, Size: o.s.size}
		o.insist(box.mid(), func() bool {
			return o.put(l, w, h, near, CauseBox, CauseText) || o.put(l, w, h, far(), CauseBox, CauseText)
		})
		restore()
	}
}

// site is where the first of a cause's faults sits that the picture shows.
func (o *overlay) site(c Cause) (Rect, bool) {
	for _, id := range c.Faults {
		if box, ok := o.faultBox(o.s.fault(id)); ok {
			return box, true
		}
	}
	return Rect{}, false
}

// deviceOf says which symbol carries a parameter, by the word before its dot or
// by its whole name.
var deviceOf = map[string]string{
	"battery": "battery", "second-battery": "second battery", "relay": "relay", "splitter": "splitter", "machine": "rectifier", "regulator": "regulator", "bank": loadTester,
	"second-machine": "second rectifier", "second-regulator": "second regulator", "second-machine.slip": "second rotor", "second-machine.rotor-ohms": "second rotor",
	"second-machine.turns": "second rotor", "second-machine.brush-volts": "second rotor",
	"machine.slip": "belt", "machine.rotor-ohms": "rotor", "machine.turns": "rotor", "machine.brush-volts": "rotor",
}

func (o *overlay) faultBox(f *system.Fault) (Rect, bool) {
	if f.Pattern != "" {
		return o.device("rectifier")
	}
	if f.SecondPattern != "" {
		return o.device("second rectifier")
	}
	for _, ch := range f.Changes {
		if e := element(o.s.sys, ch.Target); e != nil {
			if box, ok := o.elementBox(e); ok {
				return box, true
			}
			continue
		}
		kind, ok := deviceOf[ch.Target]
		if !ok {
			group, _, _ := strings.Cut(ch.Target, ".")
			kind = deviceOf[group]
		}
		if box, ok := o.regulatorBox(kind); ok {
			return box, true
		}
		if box, ok := o.device(kind); ok {
			return box, true
		}
	}
	return Rect{}, false
}

// regulatorBox is where a regulator stands in the view that shows it.
func (o *overlay) regulatorBox(kind string) (Rect, bool) {
	for i, p := range o.s.plants() {
		if kind != p.prefix+"regulator" {
			continue
		}
		for _, v := range o.views {
			if p.regulator.in(v.window) {
				return v.sheet.plants()[i].regulator, true
			}
		}
	}
	return Rect{}, false
}

func (s *Sheet) fault(id string) *system.Fault {
	for i := range s.sys.Faults {
		if s.sys.Faults[i].ID == id {
			return &s.sys.Faults[i]
		}
	}
	return nil
}

func (s *Sheet) place(id string) int {
	for i, p := range s.sys.Rig.Places {
		if p.ID == id {
			return i
		}
	}
	return -1
}

// places are the boxes on the whole sheet that a close-up must show.
func (o *overlay) places() []Rect {
	var out []Rect
	for _, p := range o.s.sys.Points { // in order, so that the same step is drawn the same
		if o.here()[p.ID] || o.o.Now != nil && o.o.Now.Point == p.ID {
			out = append(out, o.s.at[p.ID].box(dotHalf))
		}
	}
	for _, c := range o.o.Clamps {
		mid, _, _ := longest(o.s.run(c.Element).line)
		out = append(out, mid.box(20))
	}
	for i := range o.s.runs {
		if r := &o.s.runs[i]; len(o.o.Series) > 0 && o.h.series[r.e.ID] {
			out = append(out, r.mid.box(20))
		}
	}
	if n := o.o.Now; n != nil && n.Point == "" {
		whole := &overlay{s: o.s, sc: &Scene{Symbols: o.s.marksIn(o.s.bounds)}, h: o.h, o: o.o, at: o.s.at, runs: o.s.runs, rails: o.s.rails}
		for _, c := range o.s.clips() {
			whole.sc.Symbols = append(whole.sc.Symbols, Mark{c.kind, "", c.box})
		}
		if box, ok := whole.nowBox(); ok {
			out = append(out, box)
		}
		for _, g := range whole.leadsOn() {
			if g.place == o.s.place(n.Place) {
				out = append(out, whole.ends(g)...)
			}
		}
	}
	return slices.Compact(out)
}

// ends are where a fitted lead will be clipped: its points, or the spot of a
// rail that is nearest to the other.
func (o *overlay) ends(g *fitted) []Rect {
	spot := func(point, other string) Rect {
		best := o.at[point]
		for _, p := range o.tips(point) {
			if p.far(o.at[other]) < best.far(o.at[other]) {
				best = p
			}
		}
		return best.box(dotHalf)
	}
	return []Rect{spot(g.gap.From, g.gap.To), spot(g.gap.To, g.gap.From)}
}
