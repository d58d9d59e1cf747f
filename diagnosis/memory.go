package diagnosis

import (
	"cmp"
	"slices"
	"sync"

	"chargewright/prediction"
)

// priorForecast is Forecast before any value was taken: it hangs on the question
// alone, and is remembered.
func (b *Belief) priorForecast(asked []*prediction.Asked, least float64) [][]Joint {
	b.prior.learn(asked)
	out := make([][]Joint, len(asked))
	for q, a := range asked {
		if a == nil || len(a.Probes) == 0 {
			continue
		}
		for _, j := range b.prior.remembered(a) {
			if b.post[j.Hyp] >= least {
				j.Weight *= b.post[j.Hyp]
				out[q] = append(out[q], j)
			}
		}
	}
	return out
}

// memory holds what every hypothesis predicts before any reading, by question.
type memory struct {
	mu sync.Mutex
	by map[string][]Joint
}

func newMemory() *memory {
	return &memory{by: map[string][]Joint{}}
}

// learn fills the memory for the questions it lacks.
func (p *Prior) learn(asked []*prediction.Asked) {
	p.memory.mu.Lock()
	defer p.memory.mu.Unlock()
	var lack []*prediction.Asked
	for _, a := range asked {
		if a != nil && len(a.Probes) > 0 {
			if _, ok := p.memory.by[a.Signature()]; !ok {
				lack = append(lack, a)
			}
		}
	}
	if len(lack) == 0 {
		return
	}
	b := Belief{prior: p, Hyps: p.singles()}
	b.post = make([]float64, len(b.Hyps))
	n := max(1, p.Settings.Workers)
	res := make([][][]*Joint, len(b.Hyps)) // hypothesis, fit, question
	parallel(n, func(g int) {
		f := newFitter(&b)
		f.keeps = true
		defer f.done()
		for h := g; h < len(b.Hyps); h += n {
			if b.Hyps[h].Intermittent {
				continue
			}
			b.post[h] = 1
			for k := range b.Hyps[h].Fits {
				res[h] = append(res[h], f.forecast(h, k, lack))
			}
		}
	})
	for h := range b.Hyps {
		if b.Hyps[h].Intermittent {
			res[h] = res[0] // shows nothing now
		}
		for _, fits := range res[h] {
			for q, j := range fits {
				if j != nil {
					twin := *j
					twin.Hyp = h
					p.memory.by[lack[q].Signature()] = append(p.memory.by[lack[q].Signature()], twin)
				}
			}
		}
	}
}

func (p *Prior) remembered(a *prediction.Asked) []Joint {
	p.memory.mu.Lock()
	defer p.memory.mu.Unlock()
	return p.memory.by[a.Signature()]
}

// packed is the first dims of each row.
func packed(rows [][]float64, dims int) []float32 {
	out := make([]float32, 0, len(rows)*dims)
	for _, row := range rows {
		for _, v := range row[:dims] {
			out = append(out, float32(v))
		}
	}
	return out
}

// recall puts what a fit that knows nothing predicts of the data from index from on
// into h0 and rows, where the memory has all of it: no vehicle was solved for that.
func (f *fitter) recall(blank int, data []datum, from int) bool {
	if f.h.Intermittent || f.h.place == 0 || blank == 0 || from == len(data) {
		return false
	}
	f.grow(len(data))
	for i := from; i < len(data); i++ {
		d := &data[i]
		if d.epoch > 0 || d.probe == wakeProbe {
			return false
		}
		j := f.bel.prior.rememberedOf(&f.bel.asked[d.asked], f.h.place-1, blank-1)
		if j == nil {
			return false
		}
		row := f.rows[i]
		clear(row)
		for c, v := range j.rows[d.probe*f.dims : (d.probe+1)*f.dims] {
			row[c] = float64(v)
		}
		f.h0[i] = j.Mean[d.probe]
		f.drift(d.reading, row)
	}
	return true
}

// rememberedOf is the part of one fit of one hypothesis, nil where it does not solve.
func (p *Prior) rememberedOf(a *prediction.Asked, h, k int) *Joint {
	p.memory.mu.Lock()
	defer p.memory.mu.Unlock()
	all := p.memory.by[a.Signature()]
	at, _ := slices.BinarySearchFunc(all, [2]int{h, k}, func(j Joint, to [2]int) int {
		return cmp.Or(cmp.Compare(j.Hyp, to[0]), cmp.Compare(j.Fit, to[1]))
	})
	if at == len(all) || all[at].Hyp != h || all[at].Fit != k {
		return nil
	}
	return &all[at]
}
