package report

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"

	"chargewright/advice"
	"chargewright/diagnosis"
	"chargewright/job"
	"chargewright/question"
	"chargewright/unit"
)

// outcome is what a step might read, with its probability.
type outcome struct {
	say    string
	share  float64
	values []job.ValueBody
}

// outcomes are the steps that follow, one for each of the readings that the
// likely causes would give; those that lead to the same step are one.
func (d *desk) outcomes(ctx context.Context, first way) ([]way, error) {
	list, err := d.might(first)
	if err != nil {
		return nil, err
	}
	const tried = 5
	var out []way
	for _, o := range list[:min(len(list), tried)] {
		at, err := d.then(ctx, first.at, job.Took, d.reading(first.at, first.step.Body.Procedure, o.values))
		if err != nil {
			return nil, err
		}
		if len(at.s.Advice.Next) == 0 {
			continue
		}
		w := way{at: at, step: at.s.Advice.Next[0], when: []string{o.say}, share: o.share}
		k := slices.IndexFunc(out, func(x way) bool { return sameStep(x.step, w.step) })
		if k < 0 {
			out = append(out, w)
			continue
		}
		out[k].share += w.share
		out[k].when = append(out[k].when, o.say)
	}
	slices.SortStableFunc(out, func(a, b way) int { return cmp.Compare(b.share, a.share) })
	return out[:min(len(out), follows)], nil
}

// might lists what a step might read, likeliest first: for a look its answers,
// else where the causes would put it.
func (d *desk) might(first way) ([]outcome, error) {
	p := d.Shelf.Catalogue[first.step.Body.Procedure]
	if p.Look == nil {
		return d.mightRead(first, p)
	}
	var out []outcome
	for k, class := range p.Look.Classes {
		o := outcome{say: "the answer is “" + class + "”", values: []job.ValueBody{{How: string(question.Class), Class: class}}}
		for _, e := range first.step.Expect {
			if k < len(e.Classes) {
				o.share += shareOf(first.at.s, e.Suspect) * e.Classes[k]
			}
		}
		out = append(out, o)
	}
	return likeliest(out), nil
}

func likeliest(list []outcome) []outcome {
	slices.SortStableFunc(list, func(a, b outcome) int { return cmp.Compare(b.share, a.share) })
	const least = 0.02
	return slices.DeleteFunc(list, func(o outcome) bool { return o.share < least })
}

// cluster is causes that would read about the same.
type cluster struct {
	share    float64
	mid, far []float64 // of each value: the first cause's middle, and how far off still counts as the same
}

// near is how far two causes' middles may lie apart, as a share of the reading,
// to be read as the same: wider, and a step stands for readings that lead
// elsewhere; narrower, and the card says the same thing twice. A cause that could
// read almost anything counts at its middle, so that it does not swallow others.
const near = 0.1

// mightRead asks every cause with a share worth asking what the step would read,
// and puts together those that read about the same.
func (d *desk) mightRead(first way, p *question.Procedure) ([]outcome, error) {
	next, err := d.with(first.at, job.Took, d.reading(first.at, p.ID, nil))
	if err != nil {
		return nil, err
	}
	q := next.j.Readings[len(next.j.Readings)-1].Question
	const worth = 0.003
	b := first.at.s.Belief
	list, err := b.Predict(q, worth)
	if err != nil {
		return nil, err
	}
	seek := slices.DeleteFunc(slices.Clone(q.Seek), func(o question.Observable) bool { return o.Kind == question.Speed })
	slices.SortStableFunc(list, func(a, b diagnosis.Predictive) int { return cmp.Compare(b.Share, a.Share) })
	var found []cluster
	for _, x := range list {
		c := clusterOf(x, seek)
		k := slices.IndexFunc(found, func(f cluster) bool { return f.holds(c) })
		if k < 0 {
			found = append(found, c)
		} else {
			found[k].share += c.share
		}
	}
	var out []outcome
	for _, c := range found {
		out = append(out, c.outcome(p, seek))
	}
	return likeliest(out), nil
}

func clusterOf(x diagnosis.Predictive, seek []question.Observable) cluster {
	c := cluster{share: x.Share}
	for v, mix := range x.Value {
		mid, u := diagnosis.Quantile(mix, 0.5), 0.0
		if v < len(seek) {
			if r, ok := rangeOf(seek[v], question.Value{How: question.Measured, X: mid}); ok {
				u = r.Standard(mid)
			}
		}
		c.mid, c.far = append(c.mid, mid), append(c.far, math.Max(near*math.Abs(mid), 3*u))
	}
	return c
}

// holds says whether another would be read as about the same.
func (c cluster) holds(x cluster) bool {
	for v := range c.mid {
		if v < len(x.mid) && math.Abs(c.mid[v]-x.mid[v]) > c.far[v] {
			return false
		}
	}
	return true
}

// outcome is a cluster as a reading.
func (c cluster) outcome(p *question.Procedure, seek []question.Observable) outcome {
	o := outcome{share: c.share}
	var says []string
	v := 0
	for _, s := range p.Measure {
		if s.Kind == question.Speed || v >= len(c.mid) {
			o.values = append(o.values, job.ValueBody{How: string(question.NotTaken)})
			continue
		}
		dim, _ := s.Dim()
		x := significant(c.mid[v], 3)
		if r, ok := rangeOf(seek[v], question.Value{How: question.Measured, X: x}); ok && math.Abs(x) < r.Resolution {
			x = 0
		}
		says = append(says, s.Note+" "+kept(unit.Format(dim, x)))
		o.values = append(o.values, job.ValueBody{How: string(question.Measured), X: c.mid[v]})
		v++
	}
	o.say = "it reads about: " + strings.Join(says, ", ")
	return o
}

func sameStep(a, b advice.Step) bool {
	return a.Do == b.Do && a.Body.Procedure == b.Body.Procedure && a.Body.Repair == b.Body.Repair
}
