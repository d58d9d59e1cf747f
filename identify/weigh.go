package identify

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// Finding is one thing that the vehicle may be: an alternator on a wiring.
type Finding struct {
	Alternator, Wiring Kind
	Pair               *Pair // nil when the two do not belong together
	Probability        float64
	OtherVolts         bool // the vehicle's volts are not those of the pair's system
}

// System is the system of the library to take, "" where none holds for what was
// seen.
func (f Finding) System() string {
	if f.Pair == nil || f.OtherVolts {
		return ""
	}
	return f.Pair.System
}

// Next is a look that would tell more.
type Next struct {
	Look Look
	Bits float64 // expected, of what is fitted
}

// Weighed is what the answers say. Findings and None sum to 1; findings are
// likeliest first, Next the most bits a minute first.
type Weighed struct {
	Findings []Finding
	None     float64
	Next     []Next
}

// Weigh weighs answers, by look. Every answer must be one of its look's (see
// Check). Answers are taken to be independent given the kinds: each stands for
// another part of the vehicle.
func (c *Catalogue) Weigh(answers map[string]string) Weighed {
	all := c.findings()
	weights := make([]float64, len(all)+1)
	for i, f := range all {
		weights[i] = f.Probability
		for _, l := range c.Looks { // in one order: the same answers give the same bits
			if answer, given := answers[l.ID]; given {
				weights[i] *= c.share(f, l.ID, answer)
			}
		}
	}
	weights[len(all)] = c.NoneOfThese
	for _, l := range c.Looks {
		if _, given := answers[l.ID]; given {
			weights[len(all)] /= float64(len(l.Answers))
		}
	}
	normalise(weights)
	w := Weighed{None: weights[len(all)], Next: c.next(all, weights, answers)}
	for i, f := range all {
		f.Probability = weights[i]
		f.OtherVolts = f.Pair != nil && f.Pair.System != "" && otherVolts(f.Wiring, answers)
		w.Findings = append(w.Findings, f)
	}
	slices.SortStableFunc(w.Findings, func(a, b Finding) int { return cmp.Compare(b.Probability, a.Probability) })
	return w
}

// enough is the share from which a finding is acted on; half, from which none of
// these is.
const (
	enough = 0.8
	half   = 0.5
)

// Settled reports whether the likeliest finding is likely enough to act on.
func (w Weighed) Settled() bool { return w.None < half && w.Findings[0].Probability >= enough }

// Of is the finding that is a system of the library, by the first of ids that is
// one.
func (w Weighed) Of(ids ...string) (Finding, bool) {
	for _, id := range ids {
		for _, f := range w.Findings {
			if f.Pair != nil && f.Pair.System == id && id != "" {
				return f, true
			}
		}
	}
	return Finding{}, false
}

// Without says what holds where there is no system to take, "" where there is one
// or the two do not belong together.
func (f Finding) Without() string {
	switch {
	case f.Pair == nil:
		return ""
	case f.OtherVolts:
		return "It is built as system " + f.Pair.System + ", at other volts: what that system predicts does not hold here. Work by the maker's manual, or write a system file with this vehicle's volts, machine and limits."
	}
	return f.Pair.Without
}

// Name is what a technician calls it.
func (f Finding) Name() string {
	name := f.Alternator.Name + "; " + f.Wiring.Name
	if f.Pair == nil {
		return "not a pair: " + name
	}
	return name
}

// Verdict says in a sentence what follows from the likeliest finding.
func (w Weighed) Verdict() string {
	f := w.Findings[0]
	switch {
	case w.None >= half:
		return "What was seen goes together on no kind that is known here: look again, and work by the maker's manual."
	case !w.Settled():
		return "Not settled yet."
	case f.Pair == nil:
		return "Alternator and wiring do not belong together. Find out what was changed before anything is measured: the remedy is the right pair, by the maker's parts list. Never earth a blade that the regulator feeds."
	case f.System() == "":
		return f.Without()
	}
	return "Take system: " + f.Pair.System + "."
}

// otherVolts reports whether the vehicle has volts that its wiring seldom has: the
// library holds each wiring at the volts that it mostly has.
func otherVolts(wiring Kind, answers map[string]string) bool {
	mostly, most := "", 0.0
	for answer, share := range wiring.Shows["volts"] {
		if share > most {
			mostly, most = answer, share
		}
	}
	seen, _, _ := strings.Cut(answers["volts"], "-") // 12-two: two batteries, 12 V
	held, _, _ := strings.Cut(mostly, "-")
	return seen != "" && seen != held
}

// findings lists every alternator on every wiring with what it counts before any
// look. A mismatched pair counts as the two kinds are met, the whole of them
// Mismatched, nine tenths of it those that are known to fit each other.
func (c *Catalogue) findings() []Finding {
	machines, wirings := map[string]float64{}, map[string]float64{}
	total := 0.0
	for _, p := range c.Pairs {
		total += p.Share
		machines[p.Alternator] += p.Share
		wirings[p.Wiring] += p.Share
	}
	var out []Finding
	var fits, others float64
	for _, a := range c.Alternators {
		for _, w := range c.Wirings {
			f := Finding{Alternator: a, Wiring: w, Pair: c.pair(a.ID, w.ID)}
			if f.Pair != nil {
				f.Probability = f.Pair.Share / total * (1 - c.Mismatched - c.NoneOfThese)
			} else {
				f.Probability = machines[a.ID] * wirings[w.ID]
				if c.Would(a.ID, w.ID) != "" {
					fits += f.Probability
				} else {
					others += f.Probability
				}
			}
			out = append(out, f)
		}
	}
	for i, f := range out {
		switch {
		case f.Pair != nil:
		case c.Would(f.Alternator.ID, f.Wiring.ID) != "":
			out[i].Probability *= c.Mismatched * fitting / fits
		default:
			out[i].Probability *= c.Mismatched * (1 - fitting) / others
		}
	}
	return out
}

// fitting is the share of mismatched pairs that are among the known strangers:
// memory.
const fitting = 0.9

func (c *Catalogue) pair(alternator, wiring string) *Pair {
	for i, p := range c.Pairs {
		if p.Alternator == alternator && p.Wiring == wiring {
			return &c.Pairs[i]
		}
	}
	return nil
}

// share is how often a finding shows an answer: what its kind gives, and what is
// left spread over the answers that it does not name.
func (c *Catalogue) share(f Finding, look, answer string) float64 {
	l, ok := c.find(look)
	if !ok {
		return 1
	}
	k := f.Alternator
	switch {
	case l.Of == ofWiring:
		k = f.Wiring
	case l.Of == ofPair && f.Pair != nil:
		k = c.Matched
	case l.Of == ofPair:
		k = c.Strange
	}
	shows := k.Shows[look]
	if len(shows) == 0 {
		return 1 / float64(len(l.Answers)) // it says nothing of this kind
	}
	if p, named := shows[answer]; named {
		return p
	}
	rest := 1.0
	for _, p := range shows {
		rest -= p
	}
	return max(0, rest) / float64(max(1, len(l.Answers)-len(shows)))
}

// next ranks the looks that are not answered and worth asking by what they would
// tell in a minute: the mutual information of answer and finding.
func (c *Catalogue) next(all []Finding, weights []float64, answers map[string]string) []Next {
	var out []Next
	for _, l := range c.Looks {
		if _, done := answers[l.ID]; done || !c.Asked(l, answers) {
			continue
		}
		if bits := c.bits(all, weights, l); bits > 0.001 {
			out = append(out, Next{l, bits})
		}
	}
	slices.SortStableFunc(out, func(a, b Next) int { return cmp.Compare(b.Bits/b.Look.Minutes, a.Bits/a.Look.Minutes) })
	return out
}

func (c *Catalogue) bits(all []Finding, weights []float64, l Look) float64 {
	bits := 0.0
	for _, a := range l.Answers {
		each := make([]float64, len(weights))
		whole := 0.0
		for i := range weights {
			each[i] = 1 / float64(len(l.Answers)) // none of these shows anything
			if i < len(all) {
				each[i] = c.share(all[i], l.ID, a.ID)
			}
			whole += weights[i] * each[i]
		}
		for i, p := range each {
			if p > 0 && weights[i] > 0 {
				bits += weights[i] * p * math.Log2(p/whole)
			}
		}
	}
	return bits
}

func normalise(w []float64) {
	total := 0.0
	for _, x := range w {
		total += x
	}
	for i := range w {
		w[i] /= total
	}
}
