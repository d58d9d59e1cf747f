package diagnosis

import (
	"cmp"
	"encoding/binary"
	"maps"
	"math"
	"math/bits"
	"slices"
	"sync"

	"chargewright/prediction"
)

// priorForecast is Forecast before any value was taken: it hangs on the question
// alone, and is remembered.
func (b *Belief) priorForecast(asked []*prediction.Asked, least float64) [][]Joint {
	known := b.prior.learn(asked)
	out := make([][]Joint, len(asked))
	for q, r := range known {
		if r == nil {
			continue
		}
		for i := range r.of {
			if h := r.of[i].hyp; b.post[h] >= least {
				j := r.joint(i)
				j.Weight *= b.post[h]
				out[q] = append(out[q], j)
			}
		}
	}
	return out
}

// memory holds what every hypothesis predicts before any reading, by question.
type memory struct {
	mu   sync.Mutex
	by   map[string]*recollection
	last int        // question that was asked
	of   []recalled // of the latest that was learnt: mostly that of every question
}

// mostRemembered bounds the questions of a memory: those of three days and more, of a
// system with eighty. A question of a warmer day is another one.
const mostRemembered = 256

func newMemory() *memory {
	return &memory{by: map[string]*recollection{}}
}

// RememberWith gives a prior the memory of another, where both predict the same: the
// same model with the same suspects. How likely each is does not matter. False where
// they differ.
func (p *Prior) RememberWith(o *Prior) bool {
	if o.memory == nil || p.Model != o.Model || p.Settings != o.Settings {
		return false
	}
	for _, f := range p.faults() {
		if (p.Rates[f.ID] > 0) != (o.Rates[f.ID] > 0) {
			return false
		}
	}
	p.memory = o.memory
	return true
}

// learn finds what is remembered of questions, and works out what is not; nil of one
// that measures nothing.
func (p *Prior) learn(asked []*prediction.Asked) []*recollection {
	m := p.memory
	m.mu.Lock()
	defer m.mu.Unlock()
	var lack []*prediction.Asked
	lacks := map[string]bool{}
	for _, a := range asked {
		if a == nil || len(a.Probes) == 0 {
			continue
		}
		if sig := a.Signature(); m.by[sig] == nil && !lacks[sig] {
			lacks[sig] = true
			lack = append(lack, a)
		}
	}
	if len(lack) > 0 {
		p.workOut(lack)
	}
	out := make([]*recollection, len(asked))
	for q, a := range asked {
		if a != nil && len(a.Probes) > 0 {
			out[q] = m.get(a)
		}
	}
	m.forget()
	return out
}

// get is what is known of a question, nil for nothing.
func (m *memory) get(a *prediction.Asked) *recollection {
	r := m.by[a.Signature()]
	if r != nil {
		m.last++
		r.used = m.last
	}
	return r
}

// forget drops what was asked for longest ago where there is too much.
func (m *memory) forget() {
	if len(m.by) <= mostRemembered {
		return
	}
	sigs := slices.SortedFunc(maps.Keys(m.by), func(a, b string) int { return cmp.Compare(m.by[a].used, m.by[b].used) })
	for _, sig := range sigs[:len(sigs)-mostRemembered] {
		delete(m.by, sig)
	}
}

// workOut fills the memory with questions that it lacks.
func (p *Prior) workOut(lack []*prediction.Asked) {
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
	}
	rows := newRowTable(p.Model.Dims())
	for q, a := range lack {
		r := recollect(res, q, len(a.Probes), rows)
		if slices.Equal(r.of, p.memory.of) { // every vehicle solves in every setup, but for a few
			r.of = p.memory.of
		}
		p.memory.by[a.Signature()], p.memory.of = r, r.of
	}
	rows.full()
}

// rememberedOf is where what one fit of one hypothesis predicts stands, nil where it
// does not solve.
func (p *Prior) rememberedOf(a *prediction.Asked, h, k int) (r *recollection, at int) {
	p.memory.mu.Lock()
	defer p.memory.mu.Unlock()
	if r = p.memory.get(a); r == nil {
		return nil, 0
	}
	i, found := slices.BinarySearchFunc(r.of, [2]int{h, k}, func(x recalled, to [2]int) int {
		return cmp.Or(cmp.Compare(x.hyp, int32(to[0])), cmp.Compare(x.fit, int32(to[1])))
	})
	if !found {
		return nil, 0
	}
	return r, int(r.of[i].at)
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
		r, at := f.bel.prior.rememberedOf(&f.bel.asked[d.asked], f.h.place-1, blank-1)
		if r == nil {
			return false
		}
		row := f.rows[i]
		clear(row)
		at = at*r.values + d.probe
		r.rows.read(r.row[at], row)
		f.h0[i] = r.mean[at]
		f.drift(d.reading, row)
	}
	return true
}

// recollection is what every fit predicts of one question, in the order of hypotheses
// and fits. It does not change but for used.
type recollection struct {
	values int // of the question
	of     []recalled
	mean   []float64 // of what was predicted: values each
	cov    []float64 // values squared each, row-major
	row    []int32   // values each: where their derivatives stand
	rows   *rowTable
	used   int // when it was asked for last
}

// recalled is one fit of one hypothesis. Those that show nothing stand where the sound
// vehicle does.
type recalled struct {
	hyp, fit, at int32
	weight       float64 // of its hypothesis
}

// joint is one of them as a forecast; nobody writes on it.
func (r *recollection) joint(i int) Joint {
	x, n := &r.of[i], r.values
	at := int(x.at)
	return Joint{
		Hyp: int(x.hyp), Fit: int(x.fit), Weight: x.weight,
		Mean: r.mean[at*n : (at+1)*n : (at+1)*n], Cov: r.cov[at*n*n : (at+1)*n*n : (at+1)*n*n],
	}
}

// recollect takes one question out of what was worked out for several, by hypothesis
// and fit.
func recollect(res [][][]*Joint, q, values int, rows *rowTable) *recollection {
	r := &recollection{values: values, rows: rows}
	where := map[*Joint]int32{}
	for h := range res {
		for _, fits := range res[h] {
			j := fits[q]
			if j == nil {
				continue
			}
			at, there := where[j]
			if !there {
				at = int32(len(where))
				where[j] = at
				r.mean, r.cov = append(r.mean, j.Mean...), append(r.cov, j.Cov...)
				for v := range values {
					r.row = append(r.row, rows.add(j.rows[v*rows.dims:(v+1)*rows.dims]))
				}
			}
			r.of = append(r.of, recalled{int32(h), int32(j.Fit), at, j.Weight})
		}
	}
	r.of, r.mean, r.cov, r.row = slices.Clone(r.of), slices.Clone(r.mean), slices.Clone(r.cov), slices.Clone(r.row) // no room beyond
	return r
}

// rowTable holds rows of derivatives, each once: under most faults most values hang on
// the vehicle as they do when it is sound. What is nothing in a row is left out.
type rowTable struct {
	dims  int
	there []uint64  // of each row: a bit for each figure that is not nothing
	from  []int32   // of each row: where its figures begin
	all   []float32 // the figures
	known map[string]int32
}

func newRowTable(dims int) *rowTable { return &rowTable{dims: dims, known: map[string]int32{}} }

// words is how many words the bits of a row take.
func (t *rowTable) words() int { return (t.dims + 63) / 64 }

// add is where a row stands from now on.
func (t *rowTable) add(row []float32) int32 {
	key := make([]byte, 0, 4*len(row))
	for _, v := range row {
		key = binary.LittleEndian.AppendUint32(key, math.Float32bits(v))
	}
	at, known := t.known[string(key)]
	if known {
		return at
	}
	at = int32(len(t.from))
	t.known[string(key)] = at
	t.from = append(t.from, int32(len(t.all)))
	set := make([]uint64, t.words())
	for c, v := range row {
		if v != 0 {
			set[c/64] |= 1 << (c % 64)
			t.all = append(t.all, v)
		}
	}
	t.there = append(t.there, set...)
	return at
}

// full ends the filling: what was only wanted for that goes.
func (t *rowTable) full() {
	t.there, t.from, t.all, t.known = slices.Clone(t.there), slices.Clone(t.from), slices.Clone(t.all), nil
}

// read puts a row into the first places of another, which are nothing before.
func (t *rowTable) read(at int32, into []float64) {
	k := t.from[at]
	for w, word := range t.there[int(at)*t.words() : int(at+1)*t.words()] {
		for ; word != 0; word &= word - 1 {
			into[64*w+bits.TrailingZeros64(word)] = float64(t.all[k])
			k++
		}
	}
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
