package diagnosis

import (
	"errors"
	"math"
	"slices"
	"sync"

	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
)

// Groups joins faults that share a repair and that no question of a catalogue
// separates: their predictions differ by less than their own spread, and what
// is seen of them is about the same. The faults of a repair are compared when one
// of them is first asked for.
type Groups struct {
	pr    Prior
	asked []*prediction.Asked
	looks []*LookTable

	mu   sync.Mutex
	of   []string
	done map[string]bool // repairs whose faults were compared
}

// Of returns the id of a fault's group.
func (g *Groups) Of(fault int) string {
	g.mu.Lock()
	defer g.mu.Unlock()
	if repair := g.pr.faults()[fault].Repair; !g.done[repair] {
		g.done[repair] = true
		g.compare(repair)
	}
	return g.of[fault]
}

const (
	// apart is the difference of two predictions, in their joint standard
	// deviations, from which a reading tells two faults apart: one reading
	// then moves the odds by a factor of about 1.6 on average, e^(1/2).
	apart = 1.0
	// seen is the total variation of two looks from which they differ.
	seen = 0.25
)

// NewGroups groups the faults of a prior by the questions and looks that can be
// asked.
func NewGroups(pr Prior, asked []*prediction.Asked, looks []*LookTable) *Groups {
	g := &Groups{pr: pr, asked: asked, looks: looks, done: map[string]bool{}}
	for _, f := range pr.faults() {
		g.of = append(g.of, f.ID)
	}
	return g
}

// compare joins the faults of a repair that nothing separates.
func (g *Groups) compare(repair string) {
	fs := g.pr.faults()
	var among []int
	for i, f := range fs {
		if !f.Outside && f.Repair == repair {
			among = append(among, i)
		}
	}
	if len(among) < 2 {
		return
	}
	var alike [][2]int // places in among
	for a := range among {
		for c := range a {
			if !looksApart(fs[among[a]].ID, fs[among[c]].ID, g.looks) {
				alike = append(alike, [2]int{a, c})
			}
		}
	}
	for _, part := range setups(g.asked) {
		if len(alike) == 0 {
			return
		}
		alike = g.stillAlike(alike, among, part)
	}
	for _, p := range alike {
		if i, k := among[p[0]], among[p[1]]; g.of[i] != g.of[k] {
			g.join(k, i)
		}
	}
}

// stillAlike drops the pairs of faults that questions separate.
func (g *Groups) stillAlike(alike [][2]int, among []int, asked []*prediction.Asked) [][2]int {
	var which []int
	for k := range among {
		if slices.ContainsFunc(alike, func(p [2]int) bool { return p[0] == k || p[1] == k }) {
			which = append(which, k)
		}
	}
	preds := make([][]*Joint, len(among))
	n := max(1, g.pr.Settings.Workers)
	parallel(n, func(w int) {
		f := newFitter(&Belief{prior: &g.pr})
		defer f.done()
		for k := w; k < len(which); k += n {
			preds[which[k]] = f.typical(among[which[k]], asked)
		}
	})
	return slices.DeleteFunc(alike, func(p [2]int) bool {
		return separated(preds[p[0]], preds[p[1]], asked, g.pr)
	})
}

// setups parts questions by the setup that they are asked in: most faults of a repair
// are told apart by the first, and the others need not be predicted.
func setups(asked []*prediction.Asked) (parts [][]*prediction.Asked) {
	last := ""
	for _, q := range bySetup(asked) {
		if a := asked[q]; len(parts) > 0 && a.Key == last {
			parts[len(parts)-1] = append(parts[len(parts)-1], a)
		} else {
			parts, last = append(parts, []*prediction.Asked{a}), a.Key
		}
	}
	return parts
}

func (g *Groups) join(keep, drop int) {
	from, to := g.of[drop], g.of[keep]
	for i := range g.of {
		if g.of[i] == from {
			g.of[i] = to
		}
	}
}

// typical predicts every question for a fault of middling magnitude.
func (f *fitter) typical(fault int, asked []*prediction.Asked) []*Joint {
	b := f.bel
	h := Hyp{Faults: []int{fault}}
	h.Fits = b.prior.blank(&h)
	mid := len(h.Fits) / 2
	h.Fits = h.Fits[mid : mid+1]
	h.Fits[0].logWeight = 0
	b.Hyps, b.post = []Hyp{h}, []float64{1}
	out := f.forecast(0, 0, asked)
	return out
}

func separated(a, c []*Joint, asked []*prediction.Asked, pr Prior) bool {
	for q := range asked {
		switch {
		case a[q] == nil && c[q] == nil:
			continue
		case a[q] == nil || c[q] == nil:
			return true
		}
		n := len(a[q].Mean)
		for v := range n {
			noise := pr.noise(asked[q].Probes[v].Obs, a[q].Mean[v])
			s := math.Sqrt(a[q].Cov[v*n+v] + c[q].Cov[v*n+v] + 2*noise*noise)
			if math.Abs(a[q].Mean[v]-c[q].Mean[v]) > apart*s {
				return true
			}
		}
	}
	return false
}

// noise is the standard uncertainty of the instrument at a value.
func (p *Prior) noise(o question.Observable, at float64) float64 {
	b := Belief{prior: p}
	d, err := b.datum(o, question.Value{How: question.Measured, X: at})
	if err != nil {
		return math.Abs(at)*0.05 + 1e-3
	}
	return d.s
}

// Noise is the standard uncertainty that a value of an observable would be read
// with.
func (p *Prior) Noise(o question.Observable, at float64) float64 { return p.noise(o, at) }

// Shown is what a meter makes of a value: beyond its largest range it shows the
// end of it, and every value there looks the same.
func (p *Prior) Shown(o question.Observable, at float64) (shown, noise float64) {
	b := Belief{prior: p}
	d, err := b.datum(o, question.Value{How: question.Measured, X: at})
	if err == nil {
		return at, d.s
	}
	var over *meter.OverRange
	if errors.As(err, &over) {
		full := math.Copysign(over.Full, at)
		return full, overNoise * over.Full
	}
	return at, p.noise(o, at)
}

// overNoise stands for the end of a range: wide, so that nothing is read into it.
const overNoise = 0.05

// Box is the range over which a wrong value is spread.
func (p *Prior) Box(o question.Observable, at float64) float64 {
	b := Belief{prior: p}
	d, err := b.datum(o, question.Value{How: question.Measured, X: at})
	if err != nil {
		_, width := p.box(o.Kind)
		return width
	}
	return d.box
}

func looksApart(a, c string, looks []*LookTable) bool {
	for _, l := range looks {
		pa, oka := l.Given[a]
		pc, okc := l.Given[c]
		if !oka {
			pa = l.Otherwise
		}
		if !okc {
			pc = l.Otherwise
		}
		tv := 0.0
		for i := range pa {
			tv += math.Abs(pa[i]-pc[i]) / 2
		}
		if tv > seen {
			return true
		}
	}
	return false
}
