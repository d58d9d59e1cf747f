package planning

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"chargewright/diagnosis"
	"chargewright/prediction"
)

// classes is the belief seen as repairs: what matters is which cure is needed,
// so faults with the same cure are not told apart for money.
type classes struct {
	names []string // "" = sound; the last is none-of-these
	of    []int    // per hypothesis, -1 = all its faults are cured already
	share []float64
	bits  float64 // entropy [bit]
}

const beyond = "none-of-these"

func classify(b *diagnosis.Belief) classes {
	c := classes{of: make([]int, len(b.Hyps))}
	index := map[string]int{}
	for i := range b.Hyps {
		name := Remaining(b, i)
		if b.Sleeping(i) {
			name = "" // nothing to find or mend until it does it
		}
		k, ok := index[name]
		if !ok {
			k = len(c.names)
			index[name] = k
			c.names = append(c.names, name)
			c.share = append(c.share, 0)
		}
		c.of[i] = k
		c.share[k] += b.Posterior(i)
	}
	c.names = append(c.names, beyond)
	c.share = append(c.share, b.None())
	c.bits = entropy(c.share)
	return c
}

// Remaining is the repair that hypothesis i still needs, "" for none.
func Remaining(b *diagnosis.Belief, i int) string {
	done := map[string]bool{}
	for _, r := range b.Repairs() {
		done[r.Class] = true
	}
	var left []string
	for _, c := range splitClass(b.RepairOf(i)) {
		if !done[c] {
			left = append(left, c)
		}
	}
	out := ""
	for k, c := range left {
		if k > 0 {
			out += "+"
		}
		out += c
	}
	return out
}

func entropy(p []float64) float64 {
	total, h := 0.0, 0.0
	for _, v := range p {
		total += v
	}
	for _, v := range p {
		if v > 0 && total > 0 {
			h -= v / total * math.Log2(v/total)
		}
	}
	return h
}

// gauge is one component of a question's forecast, ready for densities.
type gauge struct {
	class  int
	weight float64
	mean   []float64
	chol   []float64 // lower factor of the covariance with the meters' noise
	logDet float64
	far    float64 // squared distance from which the density is nothing
}

// nothing is the log density under which it counts as none: what a wrong value
// adds is never so little (eps over a box of 1000 each for maxValues values).
const nothing = -75

// prepare factors the forecast of one question, meter noise included.
func prepare(b *diagnosis.Belief, c *classes, asked *prediction.Asked, joints []diagnosis.Joint) []gauge {
	out := make([]gauge, 0, len(joints))
	n := len(asked.Probes)
	for _, j := range joints {
		g := gauge{class: c.of[j.Hyp], weight: j.Weight, mean: slices.Clone(j.Mean), chol: slices.Clone(j.Cov)}
		for v := range n {
			shown, s := b.Prior().Shown(asked.Probes[v].Obs, j.Mean[v])
			if shown != j.Mean[v] {
				g.flatten(v, n)
			}
			g.mean[v] = shown
			g.chol[v*n+v] += s*s + 1e-12
		}
		if g.factor(n) {
			g.far = -2 * (nothing + g.logDet + float64(n)*halfLog2Pi)
			out = append(out, g)
		}
	}
	return out
}

// flatten makes value v independent of the others and without spread of its
// own: a meter at the end of its range says no more than that.
func (g *gauge) flatten(v, n int) {
	for k := range n {
		g.chol[v*n+k], g.chol[k*n+v] = 0, 0
	}
}

func (g *gauge) factor(n int) bool {
	m := g.chol
	for i := range n {
		for k := 0; k <= i; k++ {
			s := m[i*n+k]
			for q := range k {
				s -= m[i*n+q] * m[k*n+q]
			}
			if i != k {
				m[i*n+k] = s / m[k*n+k]
				continue
			}
			if !(s > 0) {
				return false
			}
			m[i*n+i] = math.Sqrt(s)
			g.logDet += math.Log(m[i*n+i])
		}
	}
	return true
}

// density at y; scratch has length n.
func (g *gauge) density(y, scratch []float64) float64 {
	n := len(y)
	q := 0.0
	for i := range n {
		s := y[i] - g.mean[i]
		for k := range i {
			s -= g.chol[i*n+k] * scratch[k]
		}
		scratch[i] = s / g.chol[i*n+i]
		if q += scratch[i] * scratch[i]; q > g.far {
			return 0
		}
	}
	return math.Exp(-q/2 - g.logDet - float64(n)*halfLog2Pi)
}

const halfLog2Pi = 0.9189385332046727

// draws is a fixed table of normal deviates: every test of every step is
// sampled with the same numbers, so that scores differ by the tests alone.
type draws struct {
	n, dim int
	z      []float64
}

func newDraws(n int) *draws {
	const dim = maxValues
	rng := rand.New(rand.NewPCG(20260401, 7))
	d := &draws{n: n, dim: dim, z: make([]float64, n*dim)}
	for i := range d.z {
		d.z[i] = rng.NormFloat64()
	}
	// Antithetic halves: the mean of the deviates is exactly 0.
	for i := n / 2 * dim; i < n/2*2*dim && i-n/2*dim < len(d.z); i++ {
		d.z[i] = -d.z[i-n/2*dim]
	}
	return d
}

// numericGain is the expected information [bit] of a measured question about
// the class: the mean drop of entropy over sampled readings, which are drawn
// from the components g in proportion to their weight.
func numericGain(b *diagnosis.Belief, c *classes, asked *prediction.Asked, g []gauge, d *draws) float64 {
	if len(g) == 0 {
		return 0
	}
	n := len(asked.Probes)
	total := 0.0
	for i := range g {
		total += g[i].weight
	}
	box := 1.0
	for v := range n {
		box *= b.Prior().Box(asked.Probes[v].Obs, g[0].mean[v])
	}
	eps := b.Prior().Settings.Epsilon
	y, scratch := make([]float64, n), make([]float64, n)
	post := make([]float64, len(c.names))
	sum, at, seen := 0.0, 0, g[0].weight
	// What is not forecast keeps its share in both entropies.
	before := entropy(forecastShares(c, g))
	for s := range d.n {
		u := (float64(s) + 0.5) / float64(d.n) * total
		for seen < u && at < len(g)-1 {
			at++
			seen += g[at].weight
		}
		for i := range n {
			y[i] = g[at].mean[i]
			for k := 0; k <= i; k++ {
				y[i] += g[at].chol[i*n+k] * d.z[s*d.dim+k]
			}
		}
		clear(post)
		for q := range g {
			post[g[q].class] += g[q].weight * ((1-eps)*g[q].density(y, scratch) + eps/box)
		}
		post[len(post)-1] = b.None() / box
		sum += before - entropy(post)
	}
	return math.Max(0, sum/float64(d.n))
}

func forecastShares(c *classes, g []gauge) []float64 {
	p := make([]float64, len(c.names))
	for _, k := range g {
		p[k.class] += k.weight
	}
	p[len(p)-1] = c.share[len(p)-1]
	return p
}

// lookGain is the exact expected information [bit] of a look.
func lookGain(b *diagnosis.Belief, c *classes, t *diagnosis.LookTable) float64 {
	n := len(t.Classes)
	table := make([]float64, n*len(c.names))
	for i := range b.Hyps {
		p := b.LookProb(t, i)
		for k := range n {
			table[k*len(c.names)+c.of[i]] += b.Posterior(i) * p[k]
		}
	}
	for k := range n {
		// Something not on the list looks like the things that are: a look
		// says nothing about it.
		row := table[k*len(c.names) : (k+1)*len(c.names)]
		all := 0.0
		for _, v := range row {
			all += v
		}
		row[len(row)-1] = b.None() * all / math.Max(1-b.None(), 1e-12)
	}
	after := 0.0
	for k := range n {
		row := table[k*len(c.names) : (k+1)*len(c.names)]
		p := 0.0
		for _, v := range row {
			p += v
		}
		after += p * entropy(row)
	}
	return math.Max(0, c.bits-after)
}

// separates names the two leading suspects of different classes that the
// question tells apart best, by the value of it that parts them most.
func separates(c *classes, g []gauge) []string {
	top := make([]int, len(c.share))
	for k := range top {
		top[k] = k
	}
	slices.SortStableFunc(top, func(x, y int) int { return cmp.Compare(c.share[y], c.share[x]) })
	top = top[:min(6, len(top))]
	best, out := 0.0, []string(nil)
	for i, a := range top {
		for _, b := range top[i+1:] {
			if d := apart(g, a, b) * math.Sqrt(c.share[a]*c.share[b]); d > best {
				best, out = d, []string{c.names[a], c.names[b]}
			}
		}
	}
	return out
}

// apart is how far the forecasts of two classes lie from each other in their own
// spread, in the value where they do so most.
func apart(g []gauge, a, b int) float64 {
	far := 0.0
	for v := 0; len(g) > 0 && v < len(g[0].mean); v++ {
		ma, va, wa := spreadOf(g, a, v)
		mb, vb, wb := spreadOf(g, b, v)
		if wa > 0 && wb > 0 {
			far = math.Max(far, math.Abs(ma-mb)/math.Sqrt(va+vb))
		}
	}
	return far
}

// spreadOf is the mean of value v in a class, its variance between and within the
// components of it, and their weight.
func spreadOf(g []gauge, class, v int) (mean, variance, weight float64) {
	square := 0.0
	for _, k := range g {
		if k.class != class {
			continue
		}
		weight += k.weight
		mean += k.weight * k.mean[v]
		square += k.weight * k.mean[v] * k.mean[v]
		for q := range v + 1 {
			square += k.weight * k.chol[v*len(k.mean)+q] * k.chol[v*len(k.mean)+q]
		}
	}
	if weight == 0 {
		return 0, 0, 0
	}
	mean /= weight
	return mean, math.Max(square/weight-mean*mean, 1e-24), weight
}
