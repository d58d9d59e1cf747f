package drawing

import (
	"math"

	"chargewright/system"
)

// paint draws the circuit itself in a hook-up: boundaries, wires, symbols,
// points, numbers, names.
func (s *Sheet) paint(sc *Scene, h *hookup) {
	ground := sc.group("ground")
	for _, e := range s.edges {
		ground.add(Item{Class: Boundary, Path: lines(e...)})
	}
	for _, r := range s.rails {
		q := r.b.sub(r.a).unit().turned().times(2.2)
		ground.add(Item{Class: RailLine, Of: r.point, Path: append(lines(r.a.add(q), r.b.add(q)), lines(r.a.sub(q), r.b.sub(q))...)})
	}
	wires, symbols := sc.group("wires"), sc.group("symbols")
	for _, p := range s.plants() {
		symbols.add(Item{Class: SymBody, Of: p.prefix + "regulator", Path: rect(p.regulator)})
	}
	drawn := map[Class]Path{}
	for i := range s.runs {
		s.paintRun(h, &s.runs[i], drawn, symbols)
	}
	for _, l := range s.pinLines() {
		drawn[WireLine] = append(drawn[WireLine], lines(l...)...)
	}
	// One path for each class: where wires run together the line gets no darker.
	for _, c := range []Class{OffLine, WireLine, LiveLine} {
		wires.add(Item{Class: c, Path: drawn[c]})
	}
	wires.add(Item{Class: SymInk, Path: s.junctions()})
	at := func(point string) Class {
		if h.live[point] {
			return LiveLine
		}
		return WireLine
	}
	for _, c := range s.accumulators() {
		symbols.add(c.draw(at(c.plus), at(c.minus))...)
	}
	symbols.add(s.splitter(at(s.sys.Splitter.In), [2]Class{at(s.sys.Splitter.Out[0]), at(s.sys.Splitter.Out[1])})...)
	symbols.add(s.relay(at(s.sys.Relay.In), at(s.sys.Relay.Out))...)
	rings := map[string]bool{}
	for _, p := range s.plants() {
		symbols.add(s.rectifier(p, h.live[p.Machine.Output])...)
		symbols.add(s.rotor(p)...)
		rings[p.Machine.RingA], rings[p.Machine.RingB] = true, true
	}
	if s.belt != nil {
		symbols.add(s.pulleys()...)
	}
	s.paintClips(sc, h, symbols)
	dots := sc.group("points")
	for _, p := range s.sys.Points {
		class := Dot
		if rings[p.ID] {
			class = DotInside
		}
		dots.add(Item{Class: class, Path: circle(s.at[p.ID], dotHalf-0.4), Of: p.ID})
	}
}

// paintClips draws load tester and watch meter while they are on.
func (s *Sheet) paintClips(sc *Scene, h *hookup, symbols *Group) {
	for _, c := range s.clips() {
		if !h.clipped(c.kind) {
			continue
		}
		symbols.add(Item{Class: SymLine, Path: lines(c.line...)})
		if c.kind == loadTester {
			symbols.add(variable(c.mid, c.dir)...)
		} else {
			symbols.add(disc(c.mid, discRadius, "V")...)
		}
		if sc.window == nil || c.box.touches(*sc.window) {
			sc.Symbols = append(sc.Symbols, Mark{c.kind, "", c.box})
			if sc.window != nil {
				sc.Symbols[len(sc.Symbols)-1].Box = c.box.common(*sc.window)
			}
		}
	}
}

// marksIn lists the symbols that are seen in a window.
func (s *Sheet) marksIn(window Rect) []Mark {
	var out []Mark
	for _, m := range s.marks {
		if m.box.touches(window) {
			out = append(out, Mark{m.kind, m.of, m.box.common(window)})
		}
	}
	return out
}

// wireOf says how an element is drawn in a hook-up.
func (h *hookup) wireOf(r *run) Wire {
	w := Wire{Element: r.e.ID, Line: r.line, Live: h.hot(r.e), Off: h.off(r.e, r.route)}
	if !w.Off {
		w.FromLive, w.ToLive = h.live[r.e.From], h.live[r.e.To]
	}
	return w
}

// paintRun draws one element: its line in pieces, then its symbol. What does
// not conduct is at battery volts as far as its symbol, or as its open switch.
func (s *Sheet) paintRun(h *hookup, r *run, drawn map[Class]Path, symbols *Group) {
	w := h.wireOf(r)
	class := WireLine
	switch {
	case w.Off:
		class = OffLine
	case w.Live:
		class = LiveLine
	}
	weight := func(live bool) Class {
		if live && !w.Off {
			return LiveLine
		}
		return class
	}
	var parts [][2]float64
	_, opened := h.open[r.e.ID]
	if half := s.halfOf(r, opened); half > 0 {
		_, _, along := nearestOn(r.line, r.mid)
		parts = append(parts, [2]float64{along, half})
	}
	if r.sw != nil {
		_, _, along := nearestOn(r.line, *r.sw)
		parts = append(parts, [2]float64{along, switchHalf})
	}
	pieces := cutAll(r.line, parts) // the last first
	for k, piece := range pieces {
		c := class
		switch {
		case len(pieces) == 1:
		case k == 0:
			c = weight(w.ToLive)
		case k == len(pieces)-1:
			c = weight(w.FromLive)
		default: // between its switch and its symbol
			c = weight(w.FromLive && h.closed[r.e.ID])
		}
		drawn[c] = append(drawn[c], lines(piece...)...)
	}
	look := symbol(r.route.Symbol, r.mid, r.dir, class, opened)
	if h.series[r.e.ID] {
		look = disc(r.mid, seriesRadius, "A")
	}
	for _, it := range look {
		it.Of = r.e.ID
		symbols.add(it)
	}
	if r.sw != nil {
		symbols.add(symbol(system.Contact, *r.sw, r.swDir, class, !h.closed[r.e.ID])...)
	}
	if r.route.Frame {
		end := r.line[len(r.line)-1]
		_, dir, _ := nearestOn(r.line, end)
		symbols.add(frame(end, dir)...)
	}
}

// junctions are the dots where wires that hang on one point part, and where they
// meet a rail.
func (s *Sheet) junctions() Path {
	var out Path
	seen := map[Pt]bool{}
	dot := func(p Pt) {
		if !seen[p] {
			seen[p] = true
			out = append(out, circle(p, 3)...)
		}
	}
	for i := range s.runs {
		a := &s.runs[i]
		for _, end := range []struct {
			point string
			at    Pt
		}{{a.e.From, a.line[0]}, {a.e.To, a.line[len(a.line)-1]}} {
			if s.plan.Rail(end.point) != nil && !a.route.Frame {
				dot(end.at)
			}
		}
		for _, q := range a.line[1 : len(a.line)-1] {
			ways := map[Pt]bool{}
			for j := range s.runs {
				if b := &s.runs[j]; b.e.From == a.e.From || b.e.From == a.e.To || b.e.To == a.e.From || b.e.To == a.e.To {
					waysFrom(b.line, q, ways)
				}
			}
			if len(ways) > 2 {
				dot(q)
			}
		}
	}
	return out
}

// waysFrom notes the directions in which a line leaves a spot on it.
func waysFrom(line []Pt, q Pt, ways map[Pt]bool) {
	legs(line, func(a, b, d Pt, n float64) {
		t := q.sub(a).X*d.X + q.sub(a).Y*d.Y
		if t < -0.01 || t > n+0.01 || a.along(d, t).far(q) > 0.01 {
			return
		}
		round := Pt{math.Round(d.X), math.Round(d.Y)}
		if t > 0.01 {
			ways[round.times(-1)] = true
		}
		if t < n-0.01 {
			ways[round] = true
		}
	})
}

// halfOf is what a symbol takes out of its line; a plug that is off takes more,
// and a load hides its own.
func (s *Sheet) halfOf(r *run, opened bool) float64 {
	switch {
	case r.route.Symbol == system.Plug && opened:
		return r.half + 3
	case r.half == 0 && r.e.Kind == system.Load:
		return shapes[r.route.Symbol].along / 2
	}
	return r.half
}

// write sets the sheet's numbers and names. Those that this step is about are
// white on black.
func (s *Sheet) write(sc *Scene, labels []placed, here map[string]bool) {
	g := sc.group("names")
	for _, l := range labels {
		if l.stem != nil {
			g.add(Item{Class: Stem, Path: lines(l.stem...), Of: l.Of})
		}
		sc.Labels = append(sc.Labels, l.Label)
		if l.Kind != Number {
			g.add(block(NameText, l.lines, l.Box, l.Size)...)
			continue
		}
		disc, text := NumDisc, NumText
		if here[l.Of] {
			disc, text = HereDisc, HereText
		}
		g.add(Item{Class: disc, Path: circle(l.Box.mid(), radiusOf(l.Text)-0.7), Of: l.Of},
			Item{Class: text, Text: l.Text, At: l.Box.mid().add(Pt{0, 0.355 * smallest}), Size: smallest, Align: Middle, Of: l.Of})
	}
}

// block sets lines of words in a box, each centred.
func block(class Class, words []string, box Rect, size float64) []Item {
	var out []Item
	for k, l := range words {
		out = append(out, Item{Class: class, Text: l, Size: size, Align: Middle, At: Pt{box.mid().X, box.Y0 + size*(ascent+leading*float64(k))}})
	}
	return out
}
