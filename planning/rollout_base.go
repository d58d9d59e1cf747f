package planning

import (
	"math"

	"chargewright/rig"
)

// choose is the base policy of a rollout: the procedure of most parting per minute, or
// -1 where being wrong costs less than the cheapest that would settle it.
func (pl *player) choose(share []float64, at rig.State, done map[int]bool) int {
	class, total, lead := pl.byClass(share)
	if total <= 0 {
		return -1
	}
	left := entropy(class)
	best, rank, cheapest := -1, 0.0, math.Inf(1)
	for q := range pl.gauges {
		if done[q] || pl.gauges[q] == nil && pl.looks[q] == nil {
			continue
		}
		bits := pl.parting(q, share, class, total)
		if bits < pl.p.Board.Settings.Useful {
			continue
		}
		cost, _, ok := pl.price(q, at)
		if !ok {
			continue
		}
		cheapest = math.Min(cheapest, toSettle(cost, bits, left))
		if r := bits / math.Max(0.25, cost); r > rank {
			best, rank = q, r
		}
	}
	sure := class[lead] / total
	if wrong := (1 - sure) * pl.wrongCosts(lead); best >= 0 && (wrong > pl.p.Board.Settings.Patience*cheapest || sure < rolledHalf) {
		return best
	}
	return -1
}

// byClass sums the shares of the parts, and says which class has most.
func (pl *player) byClass(share []float64) (class []float64, total float64, lead int) {
	class = make([]float64, len(pl.c.names))
	for i, x := range pl.parts {
		class[x.class] += share[i]
		total += share[i]
	}
	return class, total, most(class)
}

// wrongCosts is what a step for a class costs when it is the wrong one.
func (pl *player) wrongCosts(class int) float64 {
	if pl.c.names[class] == "" {
		return comeback
	}
	_, _, all := pl.p.Board.repairCost(pl.c.names[class])
	return all + pl.p.Board.Practice.Proof.Attended
}

// parting is about how many bits a procedure tells of the class: of a measurement half the
// logarithm of its variance over what is left within the classes, of a look the exact
// information.
func (pl *player) parting(q int, share, class []float64, total float64) float64 {
	if look := pl.looks[q]; look != nil {
		return pl.lookParting(look, share, class, total)
	}
	best := 0.0
	for v := range maxValues {
		ratio, more := pl.ratio(q, v, share)
		if !more {
			break
		}
		best = math.Max(best, 0.5*math.Log2(1+ratio))
	}
	return math.Min(best, entropy(class))
}

// ratio is a value's variance between the classes over what is left within them; more is
// false where the procedure has no such value.
func (pl *player) ratio(q, v int, share []float64) (ratio float64, more bool) {
	mean, square, seen := pl.sums[0], pl.sums[1], pl.sums[2]
	clear(mean)
	clear(square)
	clear(seen)
	for i, g := range pl.gauges[q] {
		if g == nil || v >= len(g.mean) || share[i] <= 0 {
			continue
		}
		k, n, noise := pl.parts[i].class, len(g.mean), 0.0
		for _, c := range g.chol[v*n : v*n+v+1] {
			noise += c * c
		}
		seen[k] += share[i]
		mean[k] += share[i] * g.mean[v]
		square[k] += share[i] * (noise + g.mean[v]*g.mean[v])
	}
	var w, m, within, between float64
	for k := range seen {
		if seen[k] > 0 {
			own := mean[k] * mean[k] / seen[k]
			w, m, between, within = w+seen[k], m+mean[k], between+own, within+square[k]-own
		}
	}
	if w <= 0 || within <= 0 {
		return 0, w > 0
	}
	return math.Max(0, between-m*m/w) / within, true
}

func (pl *player) lookParting(look, share, class []float64, total float64) float64 {
	n := len(look) / len(pl.parts)
	after := 0.0
	row := make([]float64, len(class))
	for k := range n {
		clear(row)
		p := 0.0
		for i, x := range pl.parts {
			row[x.class] += share[i] * look[i*n+k]
			p += share[i] * look[i*n+k]
		}
		if p > 0 {
			after += p / total * entropy(row)
		}
	}
	return math.Max(0, entropy(class)-after)
}

// mend does the likeliest thing for a vehicle: its cure, with what being wrong costs, or
// to send it away. Over is true where that ends the job.
func (pl *player) mend(share []float64, truth int) (minutes float64, over bool) {
	_, total, lead := pl.byClass(share)
	if total <= 0 {
		return rolledGive, true
	}
	if lead == pl.parts[truth].class {
		if pl.c.names[lead] == "" {
			return 0, true
		}
		return pl.wrongCosts(lead), true
	}
	for i, x := range pl.parts {
		if x.class == lead {
			share[i] = 0
		}
	}
	return pl.wrongCosts(lead), pl.c.names[lead] == ""
}
