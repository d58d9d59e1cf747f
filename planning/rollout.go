package planning

import (
	"cmp"
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	"chargewright/diagnosis"
	"chargewright/rig"
)

// Rolling out: the job is played to its end from each of the best steps, with cures,
// readings and hook-ups drawn from the belief, and the step that leaves the least mean
// minutes is taken (Tu and Pattipati, IEEE T-SMC-A 33(1), 2003). The readings of a fit
// are taken as independent of each other, as its spread is what the meters leave. Every
// candidate is played against the same vehicles and the same readings.

// Limits of a rollout.
const (
	rolledTests = 4   // the best tests, and the best of every other hook-up
	rolledMost  = 6   // tests in all
	rolledSteps = 12  // after which what is likeliest is mended
	rolledGive  = 600 // minutes at which a job counts as given up
	rolledParts = 80  // heaviest fits that are played
	rolledHalf  = 0.5 // share of a cure under which it is not tried while there is a test
)

// part is one fit: a vehicle that may be the one at hand.
type part struct{ hyp, fit, class int }

// player plays jobs to their end.
type player struct {
	p       *Planner
	c       *classes
	s       State
	parts   []part
	weight  []float64   // share of each part
	gauges  [][]*gauge  // per procedure and part, nil = not foreseen
	looks   [][]float64 // per look and part: chances of its classes, one after the other
	box     []float64   // per procedure: what a wrong value's density is divided by
	eps     float64
	scratch [maxValues]float64
	sums    [3][]float64 // per class: mean, spread, share of one value
}

// rollOut puts the test that leaves the least mean minutes first. It returns the stop
// where to stop now leaves less still.
func (p *Planner) rollOut(s State, c *classes, f *foreseen, tests []Step, stop *Step) *Step {
	pl := p.newPlayer(s, c, f)
	if len(pl.parts) == 0 || len(tests) == 0 {
		return stop
	}
	tried := rolled(tests)
	best, least := -1, math.Inf(1)
	if stop != nil && (stop.Do != Repair || stop.Chance >= rolledHalf) {
		least = pl.mean(-1)
	}
	for _, k := range tried {
		if m := pl.mean(p.Board.at[tests[k].Procedure.ID]); m < least {
			best, least = k, m
		}
	}
	if best < 0 {
		return stop
	}
	first := tests[best]
	copy(tests[1:best+1], tests[:best])
	tests[0] = first
	return nil
}

// rolled are the tests worth playing: the best, and of every hook-up the best.
func rolled(tests []Step) (out []int) {
	seen := map[rig.State]bool{}
	for k, t := range tests {
		if len(out) < rolledTests || !seen[t.To] && len(out) < rolledMost {
			out = append(out, k)
			seen[t.To] = true
		}
	}
	return out
}

func (p *Planner) newPlayer(s State, c *classes, f *foreseen) *player {
	pl := &player{p: p, c: c, s: s, eps: s.Belief.Prior().Settings.Epsilon}
	n := len(f.asked)
	pl.gauges, pl.looks, pl.box = make([][]*gauge, n), make([][]float64, n), make([]float64, n)
	index := pl.heaviest(f)
	for q, a := range f.asked {
		if a == nil || len(a.Probes) > maxValues || s.Barred[p.Board.Procs[q].ID] {
			continue
		}
		pl.gauges[q], pl.box[q] = make([]*gauge, len(pl.parts)), 1
		for _, j := range f.forecast[q] {
			at, ok := index[[2]int{j.Hyp, j.Fit}]
			if !ok {
				continue
			}
			if g := prepare(&s.Belief, c, a, []diagnosis.Joint{j}); len(g) == 1 {
				pl.gauges[q][at] = &g[0]
			}
		}
		for v := range a.Probes {
			if len(f.forecast[q]) > 0 {
				pl.box[q] *= s.Belief.Prior().Box(a.Probes[v].Obs, f.forecast[q][0].Mean[v])
			}
		}
	}
	for q, t := range p.Board.looks {
		if t == nil || s.Barred[p.Board.Procs[q].ID] || s.Done[p.Board.Procs[q].ID] > 0 {
			continue
		}
		for _, x := range pl.parts {
			pl.looks[q] = append(pl.looks[q], s.Belief.LookProb(t, x.hyp)...)
		}
	}
	return pl
}

// heaviest takes over the fits that are played and tells where each stands.
func (pl *player) heaviest(f *foreseen) map[[2]int]int {
	weight := map[[2]int]float64{}
	for _, joints := range f.forecast {
		for _, j := range joints {
			if pl.c.of[j.Hyp] >= 0 {
				weight[[2]int{j.Hyp, j.Fit}] = j.Weight
			}
		}
	}
	keys := slices.SortedFunc(maps.Keys(weight), func(x, y [2]int) int {
		return cmp.Or(cmp.Compare(weight[y], weight[x]), slices.Compare(x[:], y[:]))
	})
	index := map[[2]int]int{}
	for i, k := range keys[:min(len(keys), rolledParts)] {
		index[k] = i
		pl.parts = append(pl.parts, part{k[0], k[1], pl.c.of[k[0]]})
		pl.weight = append(pl.weight, weight[k])
	}
	for i := range pl.sums {
		pl.sums[i] = make([]float64, len(pl.c.names))
	}
	return index
}

// mean plays every vehicle once, a procedure first, or the stop for -1.
func (pl *player) mean(first int) float64 {
	total, n := 0.0, pl.p.Board.Settings.Rollouts
	sum := 0.0
	for _, w := range pl.weight {
		sum += w
	}
	at, seen := 0, pl.weight[0]
	for m := range n {
		u := (float64(m) + 0.5) / float64(n) * sum
		for seen < u && at < len(pl.parts)-1 {
			at++
			seen += pl.weight[at]
		}
		total += pl.job(uint64(m), at, first)
	}
	return total / float64(n)
}

// job plays one vehicle to its end and returns the minutes.
func (pl *player) job(seed uint64, truth, first int) (minutes float64) {
	share := slices.Clone(pl.weight)
	at, done := pl.s.Rig, map[int]bool{}
	for step := 0; minutes < rolledGive; step++ {
		q := first
		if step > 0 {
			q = pl.choose(share, at, done)
		}
		if q < 0 || step >= rolledSteps {
			cost, over := pl.mend(share, truth)
			if minutes += cost; over {
				return minutes
			}
			continue
		}
		cost, to, ok := pl.price(q, at)
		if !ok {
			return rolledGive
		}
		minutes += cost
		at, done[q] = to, true
		pl.read(seed, q, truth, share)
	}
	return rolledGive
}

// price is the minutes of a procedure from a hook-up, and the hook-up after it.
func (pl *player) price(q int, at rig.State) (minutes float64, to rig.State, ok bool) {
	bd := pl.p.Board
	way, err := bd.Way(at, q)
	if err != nil {
		return 0, at, false
	}
	work, rigging, waiting := bd.takes(bd.Procs[q].ID, way)
	return work + rigging + bd.Settings.Waiting*waiting, way.Final, true
}

// read draws a reading of a vehicle and weighs every part by it. The draw hangs on the
// vehicle and the procedure alone.
func (pl *player) read(seed uint64, q, truth int, share []float64) {
	rng := rand.New(rand.NewPCG(seed, uint64(q)))
	if look := pl.looks[q]; look != nil {
		n := len(look) / len(pl.parts)
		u, k := rng.Float64(), 0
		for ; k < n-1 && u >= look[truth*n+k]; k++ {
			u -= look[truth*n+k]
		}
		for i := range share {
			share[i] *= look[i*n+k]
		}
		return
	}
	g := pl.gauges[q][truth]
	if g == nil {
		return
	}
	n := len(g.mean)
	y, z := make([]float64, n), make([]float64, n)
	for i := range n {
		y[i], z[i] = g.mean[i], rng.NormFloat64()
		for k := 0; k <= i; k++ {
			y[i] += g.chol[i*n+k] * z[k]
		}
	}
	for i, o := range pl.gauges[q] {
		p := pl.eps / pl.box[q]
		if o != nil && share[i] > 0 {
			p += (1 - pl.eps) * o.density(y, pl.scratch[:n])
		}
		share[i] *= p
	}
}
