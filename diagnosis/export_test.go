package diagnosis

import ("math"; "fmt")

// Marginal is the posterior of a coordinate of z under hypothesis i, a mixture
// of normals; id is an element or parameter, or "magnitude" (log10 of it).
func Marginal(b *Belief, i int, id string) []Normal {
	h, m := &b.Hyps[i], b.prior.Model
	at := -1
	for k, c := range m.Coords {
		if c.ID == id {
			at = k
		}
	}
	if id == "magnitude" {
		at = len(m.Coords)
	}
	w := fitWeights(h.Fits)
	g := make([]float64, m.Dims())
	g[at] = 1
	var out []Normal
	for k := range h.Fits {
		f := &h.Fits[k]
		n := Normal{Weight: w[k], Mean: f.z[at], SD: math.Sqrt(f.variance(g))}
		if id == "magnitude" {
			n.Mean, n.SD = f.comp.Mean[0]+f.comp.SD[0]*n.Mean, f.comp.SD[0]*n.SD
		}
		out = append(out, n)
	}
	return out
}

// InFull is the method without its short cuts, for a belief that nobody else has.
func InFull(b *Belief) { inFull(b) }
func Show(b *Belief, least float64) {
	for i := range b.Hyps { if b.post[i] > least && !b.Hyps[i].Intermittent {
		fmt.Println(b.name(i), b.post[i], b.Hyps[i].LogPrior, b.Hyps[i].LogEvidence, b.Hyps[i].Stale)
		for _, k := range b.Hyps[i].Fits { fmt.Println("    ", k.bad, k.phi, k.logEv, k.comp.Mean[0], k.z[len(k.z)-2], k.regime, k.n) }
	} }
}
func FromTruth(b *Belief, i int, z []float64) {
	f := newFitter(b)
	f.h = &b.Hyps[i]
	for _, c := range b.prior.components(f.h) {
		f.w.Begin()
		err := f.evaluate(c.comp, z, b.data, true)
		fmt.Println(c.comp.Mean[0], math.Pow(10, c.comp.Mean[0]+c.comp.SD[0]*z[len(z)-2]), err, "phi", f.objective(z, b.data, 0), "like", f.likelihood(b.data), f.h0, f.w.Sheet().Regime)
		g, ok := f.run(c.comp, 0, z, b.data)
		fmt.Println("   run", ok, g.phi, g.logEv, g.regime, g.z[len(z)-2])
		f.w.Begin()
		f.evaluate(c.comp, g.z, b.data, true)
		fmt.Println("   ", f.h0)
	}
}
func Nm(b *Belief, i int) string { return b.name(i) }
