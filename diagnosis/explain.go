package diagnosis

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Suspect is a group of faults with one repair that no reading available in
// this system separates, with its share.
type Suspect struct {
	ID          string
	Faults      []Share
	Repair      string
	Probability float64
}

// Share is one member of a suspect. A pair names both its faults, joined by +.
type Share struct {
	Fault        string
	Share        float64 // of the whole, not of the group
	Intermittent float64 // the part of Share that is not showing now
}

// Suspects returns the groups, most probable first. Their probabilities, the
// sound vehicle's and none-of-these sum to 1.
func (b *Belief) Suspects(groups *Groups) []Suspect {
	at := map[string]int{}
	var out []Suspect
	counts := b.repairsFrom(groupedFrom)
	for i, h := range b.Hyps {
		if len(h.Faults) == 0 {
			continue
		}
		id, fault, repair := b.naming(groups, h.Faults, counts)
		k, ok := at[id]
		if !ok {
			k = len(out)
			at[id] = k
			out = append(out, Suspect{ID: id, Repair: repair})
		}
		out[k].add(fault, b.post[i], h.Intermittent)
	}
	for k := range out {
		slices.SortStableFunc(out[k].Faults, func(x, y Share) int { return cmp.Compare(y.Share, x.Share) })
	}
	slices.SortStableFunc(out, func(x, y Suspect) int {
		if math.Abs(x.Probability-y.Probability) < 1e-6 {
			return strings.Compare(x.ID, y.ID)
		}
		return cmp.Compare(y.Probability, x.Probability)
	})
	return out
}

func (s *Suspect) add(fault string, p float64, intermittent bool) {
	s.Probability += p
	i := slices.IndexFunc(s.Faults, func(x Share) bool { return x.Fault == fault })
	if i < 0 {
		i = len(s.Faults)
		s.Faults = append(s.Faults, Share{Fault: fault})
	}
	s.Faults[i].Share += p
	if intermittent {
		s.Faults[i].Intermittent += p
	}
}

// groupedFrom is the share of the job from which the faults of a repair are
// grouped: to compare them takes as long as an update, and those below are only
// the tail of the list.
const groupedFrom = 1e-3

// repairsFrom are the repairs that have at least a share of the job.
func (b *Belief) repairsFrom(share float64) map[string]bool {
	sums, out := map[string]float64{}, map[string]bool{}
	for i, h := range b.Hyps {
		for _, f := range h.Faults {
			repair := b.prior.faults()[f].Repair
			sums[repair] += b.post[i]
			out[repair] = sums[repair] >= share
		}
	}
	return out
}

// SuspectIDs are the ids of the suspects that the hypotheses belong to, "" for the
// sound vehicle.
func (b *Belief) SuspectIDs(groups *Groups) []string {
	counts := b.repairsFrom(groupedFrom)
	out := make([]string, len(b.Hyps))
	for i, h := range b.Hyps {
		out[i], _, _ = b.naming(groups, h.Faults, counts)
	}
	return out
}

// naming gives a hypothesis its group's id, its own name and its repair.
func (b *Belief) naming(groups *Groups, faults []int, counts map[string]bool) (id, fault, repair string) {
	fs := b.prior.faults()
	var ids, gs, rs []string
	for _, i := range faults {
		ids = append(ids, fs[i].ID)
		if counts[fs[i].Repair] {
			gs = append(gs, groups.Of(i))
		} else {
			gs = append(gs, fs[i].ID)
		}
		if !slices.Contains(rs, fs[i].Repair) {
			rs = append(rs, fs[i].Repair)
		}
	}
	slices.Sort(rs)
	return strings.Join(gs, "+"), strings.Join(ids, "+"), strings.Join(rs, "+")
}

// Sound is the probability that nothing is wrong.
func (b *Belief) Sound() float64 { return b.post[0] }

// RepairClasses returns the probability of every set of repairs; the sound
// vehicle has the empty name and none-of-these is left out.
func (b *Belief) RepairClasses() map[string]float64 {
	out := map[string]float64{}
	for i := range b.Hyps {
		out[b.RepairOf(i)] += b.post[i]
	}
	return out
}

// RepairOf names what cures hypothesis i.
func (b *Belief) RepairOf(i int) string {
	var rs []string
	for _, f := range b.Hyps[i].Faults {
		if r := b.prior.faults()[f].Repair; !slices.Contains(rs, r) {
			rs = append(rs, r)
		}
	}
	slices.Sort(rs)
	return strings.Join(rs, "+")
}

// Weight is what one reading says, every other reading being known.
type Weight struct {
	Reading   string
	PWrong    float64            // probability that a value of it is wrong
	PSurprise float64            // how often a reading as far out would come, given the others
	Bits      map[string]float64 // fault id -> log2 p(y|fault, others) - log2 p(y|others)
}

// Why returns the weight of every reading, leave-one-out, for the faults that
// have at least a hundredth of the job (and the sound vehicle, id "no-fault").
func (b *Belief) Why() []Weight {
	out := make([]Weight, len(b.Readings))
	for r := range b.Readings {
		out[r] = b.weigh(r)
	}
	return out
}

const shownShare = 0.01

// weigh leaves a reading out: under each hypothesis the sum of its values'
// leave-one-out terms and looks.
func (b *Belief) weigh(r int) Weight {
	w := Weight{Reading: b.Readings[r].ID, PSurprise: 1, Bits: map[string]float64{}}
	logs := make([]float64, len(b.Hyps))
	var inv []float64
	for i := range b.Hyps {
		l, wrong, tail := b.leaveOut(i, r)
		logs[i] = l
		w.PWrong += b.post[i] * wrong
		if i == b.leader() {
			w.PSurprise = tail
		}
		if b.post[i] > 0 {
			inv = append(inv, math.Log(b.post[i])-l)
		}
	}
	// p(y|others) is the harmonic mean of the hypotheses' own, weighted by
	// the posterior, none-of-these apart.
	total := 0.0
	for _, p := range b.post {
		total += p
	}
	all := math.Log(total) - logSumExp(inv)
	for i, h := range b.Hyps {
		if h.Intermittent || b.post[i] < shownShare {
			continue
		}
		name := "no-fault"
		if len(h.Faults) > 0 {
			name = b.faultName(h.Faults)
		}
		w.Bits[name] = (logs[i] - all) / math.Ln2
	}
	return w
}

func (b *Belief) faultName(faults []int) string {
	var ids []string
	for _, i := range faults {
		ids = append(ids, b.prior.faults()[i].ID)
	}
	return strings.Join(ids, "+")
}

// leaveOut is log p(reading r | hypothesis i, the other readings), the
// probability that a value of it is wrong, and its two-sided tail.
func (b *Belief) leaveOut(i, r int) (logp, wrong, tail float64) {
	h := &b.Hyps[i]
	tail = 1
	for _, l := range b.looks {
		if l.reading == r {
			p := b.lookProb(l.table, h, l.showing, l.epoch)
			logp += math.Log(p[l.class])
			tail = math.Min(tail, lookTail(p, l.class))
		}
	}
	if len(h.Fits) == 0 || h.Stale {
		return logp + b.staleTerm(r), 0, tail
	}
	weights := fitWeights(h.Fits)
	var terms []float64
	for k := range h.Fits {
		f := &h.Fits[k]
		term, bad, t := b.fitTerm(f, r)
		terms = append(terms, math.Log(weights[k])-term)
		wrong += weights[k] * bad
		if weights[k] == slices.Max(weights) {
			tail = math.Min(tail, t)
		}
	}
	return logp - logSumExp(terms), wrong, tail
}

// staleTerm stands for a hypothesis that was only screened: its values count
// as wrong, which is about why it is small.
func (b *Belief) staleTerm(r int) float64 {
	sum := 0.0
	for _, d := range b.data {
		if d.reading == r {
			sum += math.Log(b.prior.Settings.Epsilon * anywhere * d.uniform())
		}
	}
	return sum
}

func fitWeights(fits []fit) []float64 {
	logs := make([]float64, len(fits))
	for i := range fits {
		logs[i] = fits[i].logWeight + fits[i].logEv
	}
	total := logSumExp(logs)
	for i := range logs {
		logs[i] = math.Exp(logs[i] - total)
	}
	return logs
}

// fitTerm sums the leave-one-out terms of a reading's values under one fit.
func (b *Belief) fitTerm(f *fit, r int) (logp, wrong, tail float64) {
	eps := b.prior.Settings.Epsilon
	tail = 1
	for di := range b.data {
		d := &b.data[di]
		if d.reading != r {
			continue
		}
		if f.bad.has(di) {
			logp += math.Log(eps * anywhere * d.uniform())
			wrong = 1
			tail = math.Min(tail, eps)
			continue
		}
		row := slices.Index(f.rows, di)
		if row < 0 {
			continue
		}
		logp += math.Log((1-eps)*math.Exp(f.loo[row]) + math.Exp(f.logWrongOf(row, d, eps)))
		if d.how == residualKind {
			z := f.looZ(row)
			tail = math.Min(tail, 2*(1-distuv.UnitNormal.CDF(math.Abs(z))))
		}
	}
	return logp, wrong, tail
}

// looZ is the standardised leave-one-out residual of a row.
func (f *fit) looZ(row int) float64 {
	return f.b[row] / math.Sqrt(f.inv[row])
}

// lookTail is the probability of a class at most as probable as the one seen.
func lookTail(p []float64, class int) float64 {
	t := 0.0
	for _, v := range p {
		if v <= p[class] {
			t += v
		}
	}
	return math.Min(1, t)
}

// PWrong returns, per reading, the probability that a value of it is wrong.
func (b *Belief) PWrong() []float64 {
	out := make([]float64, len(b.Readings))
	heard := 0.0
	defer func() {
		for r := range out {
			out[r] /= math.Max(heard, shownShare)
		}
	}()
	for i := range b.Hyps {
		if b.post[i] < shownShare/10 || len(b.Hyps[i].Fits) == 0 || b.Hyps[i].Stale {
			continue
		}
		heard += b.post[i]
		w := fitWeights(b.Hyps[i].Fits)
		for k := range b.Hyps[i].Fits {
			seen := map[int]bool{}
			for di := range b.data {
				if r := b.data[di].reading; b.Hyps[i].Fits[k].bad.has(di) && !seen[r] {
					seen[r] = true
					out[r] += b.post[i] * w[k]
				}
			}
		}
	}
	return out
}

// LookProb is P(class) of a look under hypothesis i now.
func (b *Belief) LookProb(t *LookTable, i int) []float64 {
	return b.lookProb(t, &b.Hyps[i], "", len(b.repairs))
}

// Sleeping reports that hypothesis i is a fault that is not showing and has not
// been seen to: no test tells it from a sound vehicle now.
func (b *Belief) Sleeping(i int) bool { return b.Hyps[i].sharesSound(b) }

// NotShowing is the probability of a fault that does not show now.
func (b *Belief) NotShowing() float64 {
	p := 0.0
	for i := range b.Hyps {
		if b.Sleeping(i) {
			p += b.post[i]
		}
	}
	return p
}

// Name is the faults of hypothesis i, joined by +; empty for the sound vehicle.
func (b *Belief) Name(i int) string { return b.faultName(b.Hyps[i].Faults) }
