package diagnosis

import "math"

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
