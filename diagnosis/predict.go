package diagnosis

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"chargewright/prediction"
	"chargewright/question"
)

const residualKind = question.Measured

// Normal is one component of a predictive mixture.
type Normal struct{ Weight, Mean, SD float64 }

// Predictive is what one hypothesis says a value will be: a mixture of normals,
// reading noise not included.
type Predictive struct {
	Hyp   int
	Share float64
	Value [][]Normal // per numeric value of the question
}

// Interval returns the quantile of a predictive value.
func quantile(c []Normal, q float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, n := range c {
		lo = math.Min(lo, n.Mean-8*n.SD-1e-12)
		hi = math.Max(hi, n.Mean+8*n.SD+1e-12)
	}
	for range 80 {
		mid := (lo + hi) / 2
		if mixtureCDF(c, mid) < q {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

func mixtureCDF(c []Normal, x float64) float64 {
	p := 0.0
	for _, n := range c {
		if n.SD <= 0 {
			if x >= n.Mean {
				p += n.Weight
			}
			continue
		}
		p += n.Weight * distuv.Normal{Mu: n.Mean, Sigma: n.SD}.CDF(x)
	}
	return p
}

// Quantile returns the quantile q of a mixture.
func Quantile(c []Normal, q float64) float64 { return quantile(c, q) }

// Predict returns the predictive of a question under every hypothesis that has
// at least the share least; fits below a hundredth of a hypothesis are left
// out.
func (b *Belief) Predict(q question.Question, least float64) ([]Predictive, error) {
	asked, err := b.prior.Model.Ask(q)
	if err != nil {
		return nil, err
	}
	var out []Predictive
	f := newFitter(b)
	defer f.done()
	for i := range b.Hyps {
		if b.post[i] < least || len(b.Hyps[i].Fits) == 0 {
			continue
		}
		p, ok := f.predict(i, &asked, question.CannotTell)
		if ok {
			p.Share = b.post[i]
			out = append(out, p)
		}
	}
	b.Work.Add(f.spent())
	return out, nil
}

func (f *fitter) predict(i int, asked *prediction.Asked, showing question.Showing) (Predictive, bool) {
	h := &f.bel.Hyps[i]
	p := Predictive{Hyp: i, Value: make([][]Normal, len(asked.Probes))}
	weights := fitWeights(h.Fits)
	row := make([]float64, f.width())
	got := false
	for k := range h.Fits {
		if weights[k] < 0.01 {
			continue
		}
		ft := &h.Fits[k]
		f.w.Begin()
		f.w.Hold(f.bel.physical(h, showing, len(f.bel.repairs)), ft.comp, ft.z[:f.dims])
		f.work.Solves++
		if f.w.Solve(asked) != nil {
			continue
		}
		got = true
		for v := range asked.Probes {
			mean := f.read(&asked.Probes[v], -1, ft.z, row)
			p.Value[v] = append(p.Value[v], Normal{weights[k], mean, math.Sqrt(ft.variance(row) + f.drifted(row, row))})
		}
	}
	return p, got
}

// Interval is a parameter's median and central interval.
type Interval struct {
	Median, Low, High float64
	Coverage          float64
}

// Param returns the posterior of a coordinate's quantity under hypothesis i,
// in SI. The id may be an element, a parameter, or "magnitude".
func (b *Belief) Param(i int, id string) (Interval, bool) {
	h := &b.Hyps[i]
	if len(h.Fits) == 0 {
		return Interval{}, false
	}
	m := b.prior.Model
	zi := -1
	for k, c := range m.Coords {
		if c.ID == id {
			zi = k
		}
	}
	weights := fitWeights(h.Fits)
	var mix []Normal
	g := make([]float64, m.Dims())
	for k := range h.Fits {
		ft := &h.Fits[k]
		clear(g)
		n := Normal{Weight: weights[k]}
		switch {
		case id == "magnitude" && len(h.Fits) > 0:
			at := len(m.Coords)
			g[at] = ft.comp.SD[0]
			n.Mean = ft.comp.Mean[0] + ft.comp.SD[0]*ft.z[at]
		case zi >= 0:
			g[zi] = 1
			n.Mean = ft.z[zi]
		default:
			return Interval{}, false
		}
		n.SD = math.Sqrt(ft.variance(g))
		mix = append(mix, n)
	}
	back := func(q float64) float64 { return math.Pow(10, quantile(mix, q)) }
	if id != "magnitude" {
		back = func(q float64) float64 { return m.FromZ(zi, quantile(mix, q)) }
	}
	return Interval{Median: back(0.5), Low: back(0.05), High: back(0.95), Coverage: 0.9}, true
}
