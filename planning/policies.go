package planning

import (
	"fmt"
	"math"
	"slices"

	"chargewright/diagnosis"
	"chargewright/question"
	"chargewright/system"
)

// Ordered follows a fixed order of procedures with the planner's own inference
// and a stop at a share of its own: it isolates what choosing the order is
// worth. When the order is used up it repairs what is likeliest.
func (p *Planner) Ordered(order []string, stop float64) Policy {
	return func(s State) (Step, error) {
		c := classify(&s.Belief)
		best := leading(&c)
		share := c.share[best]
		next := p.nextInOrder(order, s)
		if share < stop && next != nil {
			return *next, nil
		}
		return p.act(s, &c), nil
	}
}

// nextInOrder is the first procedure of the order that has not been done and
// can be.
func (p *Planner) nextInOrder(order []string, s State) *Step {
	for _, id := range order {
		i, ok := p.Board.at[id]
		if !ok || s.Done[id] > 0 || s.Barred[id] {
			continue
		}
		st := Step{Do: Test, Procedure: p.Board.Procs[i]}
		if p.Board.looks[i] != nil {
			st.Do = Look
		}
		if p.price(&st, s, i) {
			return &st
		}
	}
	return nil
}

// act repairs the likeliest class, or says what it amounts to.
func (p *Planner) act(s State, c *classes) Step {
	best, found := 0, false
	for k, name := range c.names {
		if name != "" && name != beyond && (!found || c.share[k] > c.share[best]) {
			best, found = k, true
		}
	}
	lead := leading(c)
	switch {
	case c.names[lead] == "" && c.share[lead] > 0.5 || !found:
		return Step{Do: Sound, Chance: c.share[lead], To: s.Rig}
	case c.names[lead] == beyond && c.share[lead] > 0.5:
		return Step{Do: Beyond, Chance: c.share[lead], To: s.Rig}
	}
	minutes, money, _ := p.Board.repairCost(c.names[best])
	return Step{Do: Repair, Repair: c.names[best], Minutes: minutes, Money: money, Chance: c.share[best], To: s.Rig}
}

// PartsFirst swaps parts by rate over cost without a single test.
func (p *Planner) PartsFirst() Policy {
	return func(s State) (Step, error) {
		done := map[string]bool{}
		for _, r := range s.Belief.Repairs() {
			done[r.Class] = true
		}
		rate := map[string]float64{}
		for _, f := range p.Board.Sys.Faults {
			if !f.Outside {
				rate[f.Repair] += p.Board.Practice.Rates[f.ID].Rate
			}
		}
		best, score := "", 0.0
		for _, class := range sortedKeys(rate) {
			_, _, all := p.Board.repairCost(class)
			if v := rate[class] / (all + p.Board.Practice.Proof.Attended); !done[class] && v > score {
				best, score = class, v
			}
		}
		if best == "" {
			return Step{Do: Beyond, To: s.Rig}, nil
		}
		minutes, money, _ := p.Board.repairCost(best)
		return Step{Do: Repair, Repair: best, Minutes: minutes, Money: money, To: s.Rig}, nil
	}
}

// PlainLimits follows a fixed order and reads every value against its limit
// alone: within or outside. It then mends what, going by the nominal readings of
// every fault, matches most of the outcomes, the commoner fault first.
func (p *Planner) PlainLimits(order []string, day question.Setup) (Policy, error) {
	dict, err := p.dictionary(day)
	if err != nil {
		return nil, err
	}
	return func(s State) (Step, error) {
		if next := p.nextInOrder(order, s); next != nil && !dict.settled(s) {
			return *next, nil
		}
		class := dict.best(s)
		if class == "" {
			return Step{Do: Sound, To: s.Rig}, nil
		}
		minutes, money, _ := p.Board.repairCost(class)
		return Step{Do: Repair, Repair: class, Minutes: minutes, Money: money, To: s.Rig}, nil
	}, nil
}

// outcome of a value against a limit.
type outcome int8

const (
	within outcome = iota
	below
	above
)

func judge(l *system.Limit, x float64) outcome {
	switch {
	case l.Low != nil && x < *l.Low:
		return below
	case l.High != nil && x > *l.High:
		return above
	}
	return within
}

// dictionary is the nominal outcome of every limit under every fault.
type dictionary struct {
	limits []*system.Limit
	rows   []dictRow
}

type dictRow struct {
	class   string
	rate    float64
	outcome []outcome
}

func (p *Planner) dictionary(day question.Setup) (*dictionary, error) {
	asked, err := p.Board.Ask(day)
	if err != nil {
		return nil, err
	}
	d := &dictionary{}
	for i := range p.Board.Sys.Limits {
		l := &p.Board.Sys.Limits[i]
		if k, ok := p.Board.at[l.Procedure]; ok && asked[k] != nil && l.Value < len(asked[k].Probes) {
			d.limits = append(d.limits, l)
		}
	}
	if len(d.limits) == 0 {
		return nil, fmt.Errorf("planning: system %s has no limit that a procedure measures", p.Board.Sys.ID)
	}
	means := p.Board.Nominal(asked)
	for f, byProc := range means {
		fault := p.Board.Sys.Faults[f]
		row := dictRow{class: fault.Repair, rate: p.Board.Practice.Rates[fault.ID].Rate}
		for _, l := range d.limits {
			v := byProc[p.Board.at[l.Procedure]]
			o := within
			if len(v) > l.Value {
				o = judge(l, v[l.Value])
			}
			row.outcome = append(row.outcome, o)
		}
		d.rows = append(d.rows, row)
	}
	slices.SortStableFunc(d.rows, func(x, y dictRow) int {
		switch {
		case x.rate > y.rate:
			return -1
		case x.rate < y.rate:
			return 1
		}
		return 0
	})
	return d, nil
}

// match scores a row against the readings taken since the last repair: plus one
// for each outcome that agrees, minus two for each that does not.
func (d *dictionary) match(s State, r dictRow) (score int, flagged bool) {
	for _, rd := range s.Belief.Readings {
		for k, l := range d.limits {
			if l.Procedure != rd.Question.Procedure || l.Value >= len(rd.Values) || rd.Values[l.Value].How != question.Measured {
				continue
			}
			o := judge(l, rd.Values[l.Value].X)
			flagged = flagged || o != within
			if o == r.outcome[k] {
				score++
			} else {
				score -= 2
			}
		}
	}
	return score, flagged
}

// settled reports that something is outside its limit and one class alone
// matches best.
func (d *dictionary) settled(s State) bool {
	best, second, class := math.MinInt, math.MinInt, ""
	outside := false
	for _, r := range d.rows {
		v, flagged := d.match(s, r)
		outside = outside || flagged
		switch {
		case v > best:
			if r.class != class {
				second = best
			}
			best, class = v, r.class
		case r.class != class && v > second:
			second = v
		}
	}
	return outside && best > second
}

func (d *dictionary) best(s State) string {
	done := map[string]bool{}
	for _, r := range s.Belief.Repairs() {
		done[r.Class] = true
	}
	best, class, outside := math.MinInt, "", false
	for _, r := range d.rows {
		v, flagged := d.match(s, r)
		outside = outside || flagged
		if !done[r.class] && v > best {
			best, class = v, r.class
		}
	}
	if !outside && len(done) == 0 {
		return ""
	}
	return class
}

func sortedKeys(m map[string]float64) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// BeyondClass is the class name of none-of-these.
const BeyondClass = beyond

// SplitClass lists the repairs of a class.
func SplitClass(class string) []string { return splitClass(class) }

// Leading is the likeliest class of a belief and its share: "" where nothing is
// wrong, or nothing that shows.
func Leading(b *diagnosis.Belief) (class string, share float64) {
	c := classify(b)
	k := leading(&c)
	return c.names[k], c.share[k]
}
