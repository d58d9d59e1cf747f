package drawing

// splitterEnds are a splitter's plate and its outlets; ok is false where the vehicle
// has none.
func (s *Sheet) splitterEnds() (plate Pt, out [2]Pt, ok bool) {
	x := s.sys.Splitter
	return s.at[x.In], [2]Pt{s.at[x.Out[0]], s.at[x.Out[1]]}, x.In != ""
}

// splitterBoxes are what its diodes take up.
func (s *Sheet) splitterBoxes() []Rect {
	plate, out, ok := s.splitterEnds()
	if !ok {
		return nil
	}
	var boxes []Rect
	for _, o := range out {
		boxes = append(boxes, shape{along: 14, across: 16}.box(plate.to(o, 0.5), o.sub(plate).unit()))
	}
	return boxes
}

// splitter draws a diode from the plate to each outlet; in and out are the classes of
// the lines that come from the points.
func (s *Sheet) splitter(in Class, outs [2]Class) []Item {
	plate, out, ok := s.splitterEnds()
	if !ok {
		return nil
	}
	var items []Item
	for k, o := range out {
		half := plate.far(o) / 2
		p := pen{plate.to(o, 0.5), o.sub(plate).unit()}
		items = append(items,
			Item{Class: in, Path: p.lines(-half, 0, -5, 0)},
			Item{Class: SymInk, Path: p.closed(-5, -6, -5, 6, 5, 0), Of: "splitter"},
			Item{Class: SymLine, Path: p.lines(5, -6, 5, 6), Of: "splitter"},
			Item{Class: outs[k], Path: p.lines(5, 0, half, 0)})
	}
	return items
}
