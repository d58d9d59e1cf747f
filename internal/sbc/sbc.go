// Package sbc runs simulation-based calibration of a diagnosis: vehicles are
// drawn from the prior itself, readings from the model itself, and what the
// posterior says is held against what was drawn. It tests the inference, not the
// model. Tests and the benchmark share it. A posterior of a free figure comes
// from the caller, who may spoil it on purpose.
//
// Open sbc.go. Source: Talts et al. 2018 (arXiv 1804.06788).
package sbc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"

	"chargewright/diagnosis"
	"chargewright/internal/score"
	"chargewright/internal/testcar"
	"chargewright/question"
)

// Study is what is drawn and judged.
type Study struct {
	Car    *testcar.Car
	Prior  diagnosis.Prior // without none-of-these and pairs, which nobody draws
	Plans  [][]string      // procedures of a job, the jobs taking them in turn
	Params []string        // ids of free figures; "magnitude" is the true fault's
	// Marginal is the posterior of a figure's z under hypothesis i (of log10 of
	// the magnitude for "magnitude").
	Marginal func(b *diagnosis.Belief, i int, id string) []diagnosis.Normal
	// Spoil, when given, breaks a posterior on purpose; Result.Spoiled shows
	// whether the ranks see it.
	Spoil func([]diagnosis.Normal) []diagnosis.Normal
	Draws int // posterior draws a rank is taken among; Draws+1 a multiple of Bins
	Bins  int
	Seed  uint64
}

// Row is what one free figure showed.
type Row struct {
	ID     string
	Counts []int // ranks by bin
	N      int
	X2, P  float64
}

// Result is what a study showed.
type Result struct {
	Rows, Spoiled []Row
	Faults        []score.Fault // posterior over hypotheses with the one that was drawn
	Names         []string      // of the hypotheses
	Prior         []float64     // of the hypotheses
}

// job is one vehicle's outcome.
type job struct {
	fault          score.Fault
	ranks, spoiled map[string]int
	err            error
}

// Run draws n vehicles and diagnoses them.
func (s *Study) Run(n int) (Result, error) {
	start, err := diagnosis.Begin(s.Prior)
	if err != nil {
		return Result{}, err
	}
	var r Result
	for i, h := range start.Hyps {
		name := "sound"
		for _, f := range h.Faults {
			name = s.Car.Sys.Faults[f].ID
		}
		if h.Intermittent {
			name += ", not showing"
		}
		r.Names, r.Prior = append(r.Names, name), append(r.Prior, start.Posterior(i))
	}
	jobs := make([]job, n)
	var wg sync.WaitGroup
	const workers = 2
	for g := range workers {
		wg.Go(func() {
			for k := g; k < n; k += workers {
				jobs[k] = s.one(start, r.Prior, uint64(k))
			}
		})
	}
	wg.Wait()
	for _, j := range jobs {
		if j.err != nil {
			return r, j.err
		}
		r.Faults = append(r.Faults, j.fault)
	}
	r.Rows = s.rows(jobs, func(j *job) map[string]int { return j.ranks })
	if s.Spoil != nil {
		r.Spoiled = s.rows(jobs, func(j *job) map[string]int { return j.spoiled })
	}
	return r, nil
}

// rows counts the ranks of every figure.
func (s *Study) rows(jobs []job, of func(*job) map[string]int) []Row {
	var out []Row
	for _, id := range s.Params {
		row := Row{ID: id, Counts: make([]int, s.Bins)}
		for k := range jobs {
			if rank, ok := of(&jobs[k])[id]; ok {
				row.Counts[score.Bin(rank, s.Draws, s.Bins)-1]++
				row.N++
			}
		}
		row.X2, row.P = score.ChiSquared(row.Counts)
		out = append(out, row)
	}
	return out
}

// one draws a vehicle, measures and diagnoses it.
func (s *Study) one(start diagnosis.Belief, prior []float64, k uint64) job {
	rng := rand.New(rand.NewPCG(s.Seed, k))
	h := pick(rng, prior)
	hyp := start.Hyps[h]
	truth := s.Car.Draw(rng, hyp.Faults, s.Prior.Settings.Components)
	seen := truth
	if hyp.Intermittent {
		seen.Faults = nil
	}
	w := s.Car.Model.Borrow()
	defer s.Car.Model.Return(w)
	b := start
	for i, id := range s.Plans[int(k)%len(s.Plans)] {
		q, err := s.Car.Question(id)
		if err != nil {
			return job{err: err}
		}
		var r question.Reading
		if s.Car.Procs[id].Look != nil {
			r = s.Car.Seen(seen, q, rng)
		} else {
			if r, err = s.Car.Measure(w, seen, q, s.Prior.Noise, rng, s.Prior.Settings.Epsilon, s.Prior.Box); err != nil {
				// No operating point: such a vehicle cannot be measured.
				return job{err: fmt.Errorf("job %d, %s: %w", k, id, err)}
			}
		}
		r.ID = fmt.Sprint(i + 1)
		if b, err = b.With(r); err != nil {
			return job{err: err}
		}
	}
	out := job{fault: score.Fault{Truth: h}, ranks: map[string]int{}, spoiled: map[string]int{}}
	for i := range prior {
		out.fault.P = append(out.fault.P, b.Posterior(i))
	}
	s.rank(&b, h, truth, rng, &out)
	return out
}

// rank places the drawn figures among posterior draws.
func (s *Study) rank(b *diagnosis.Belief, h int, truth testcar.Truth, rng *rand.Rand, out *job) {
	for _, id := range s.Params {
		value, mix := s.drawn(truth, id), s.posterior(b, h, id)
		if len(mix) == 0 {
			continue
		}
		out.ranks[id] = score.Rank(value, draws(rng, mix, s.Draws))
		if s.Spoil != nil {
			out.spoiled[id] = score.Rank(value, draws(rng, s.Spoil(mix), s.Draws))
		}
	}
}

const magnitude = "magnitude"

func (s *Study) drawn(truth testcar.Truth, id string) float64 {
	coords := s.Car.Model.Coords
	if id == magnitude {
		return truth.Comp.Mean[0] + truth.Comp.SD[0]*truth.Z[len(coords)]
	}
	for k, c := range coords {
		if c.ID == id {
			return truth.Z[k]
		}
	}
	return math.NaN()
}

// posterior is a figure's mixture over all hypotheses, or the magnitude's under
// the true one; none where there is no magnitude.
func (s *Study) posterior(b *diagnosis.Belief, h int, id string) []diagnosis.Normal {
	if id == magnitude {
		hyp := b.Hyps[h]
		if hyp.Intermittent || len(hyp.Faults) != 1 || s.Car.Sys.Faults[hyp.Faults[0]].Magnitude == nil || len(hyp.Fits) == 0 {
			return nil
		}
		return s.Marginal(b, h, id)
	}
	var mix []diagnosis.Normal
	for i := range b.Hyps {
		if b.Posterior(i) < 1e-4 || len(b.Hyps[i].Fits) == 0 {
			continue
		}
		for _, n := range s.Marginal(b, i, id) {
			n.Weight *= b.Posterior(i)
			mix = append(mix, n)
		}
	}
	return mix
}

func draws(rng *rand.Rand, mix []diagnosis.Normal, n int) []float64 {
	weights := make([]float64, len(mix))
	for k := range mix {
		weights[k] = mix[k].Weight
	}
	out := make([]float64, n)
	for k := range out {
		m := mix[pick(rng, weights)]
		out[k] = m.Mean + m.SD*rng.NormFloat64()
	}
	return out
}

func pick(rng *rand.Rand, w []float64) int {
	total := 0.0
	for _, v := range w {
		total += v
	}
	u := rng.Float64() * total
	for i, v := range w {
		if u < v {
			return i
		}
		u -= v
	}
	return len(w) - 1
}

// Falls lists the rows that fall at a level held over all of them (Holm).
func Falls(rows []Row, level float64) []string {
	var p []float64
	for _, row := range rows {
		p = append(p, row.P)
	}
	var out []string
	for i, falls := range score.Holm(p, level) {
		if falls {
			out = append(out, rows[i].ID)
		}
	}
	return out
}

// Counts holds, for every hypothesis, how often it was drawn against the sum of
// its posteriors: z about normal (0, 1) when they are right. Hypotheses with a
// variance under 3 are left out, for they are not normal.
func (r *Result) Counts() (z []float64, names []string) {
	for i, name := range r.Names {
		sum, v := 0.0, 0.0
		for _, f := range r.Faults {
			sum -= f.P[i]
			if f.Truth == i {
				sum++
			}
			v += f.P[i] * (1 - f.P[i])
		}
		if v > 3 {
			z, names = append(z, sum/math.Sqrt(v)), append(names, name)
		}
	}
	return z, names
}
