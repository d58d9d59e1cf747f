package truth

// splitter writes the two diodes of a splitter; what they have of resistance stands in
// the joints beside them.
func (w *writer) splitter() {
	v, x := w.v.Splitter, w.m.Sys.Splitter
	if v == nil {
		return
	}
	w.line(".model dxsplit d(is=%.7g n=%.4g)", v.Saturation, x.Emission)
	for k, out := range x.Out {
		w.line("Dxsplit%d %s %s dxsplit", k+1, w.node(x.In), w.node(out))
	}
}
