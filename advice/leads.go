package advice

import (
	"fmt"
	"math"
	"strings"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/unit"
)

// leads are what a procedure is read with in a hook-up, each with the number that
// its box has where there are several.
func (d *Desk) leads(list []question.Observable, at rig.State) []Lead {
	var out []Lead
	for i, o := range list {
		l := d.lead(o)
		if l.Watch = question.OffWatchMeter(d.System, at, o); l.Watch {
			l.Meter, l.Instrument = watchMeter, watchMeter
		}
		if len(list) > 1 && l.Instrument != "" {
			l.N = i + 1
		}
		out = append(out, l)
	}
	return out
}

const watchMeter = "watch meter"

func (d *Desk) lead(o question.Observable) Lead {
	dim, _ := o.Dim()
	l := Lead{Box: o.Note, Kind: string(o.Kind), Dim: dim, Unit: unit.UCUM(dim), Meter: o.Meter}
	if in, ok := d.meters[o.Meter]; ok {
		l.Meter = in.Name
	}
	switch {
	case o.Meter == question.ReadOut: // nothing goes on
	case o.Through != "":
		l.Instrument = "clamp meter"
		if d.meters[o.Meter].SeriesOhms > 0 {
			l.Instrument = "ammeter"
		}
		for _, e := range d.System.Elements {
			if e.ID == o.Through {
				l.Through = &Named{e.ID, e.Name}
				if d.System.Twin() && counted(e.Name) && !counted(o.Note) {
					l.Of = e.Name // two machines: "output amps" could be of either
				}
				l.Forward = "from " + d.point(e.From).Name + " to " + d.point(e.To).Name
			}
		}
	case o.Red != "":
		red, black := d.point(o.Red), d.point(o.Black)
		l.Red, l.Black, l.Instrument = &red, &black, "meter"
	}
	return l
}

// counted says whether a name says of which of two things it is.
func counted(name string) bool {
	return strings.Contains(name, "first") || strings.Contains(name, "second")
}

// Title is what a box is called: with its number it begins with the word that the
// drawing has at the meter.
func (l Lead) Title() string {
	box := l.Box
	if l.Of != "" {
		box += ", " + l.Of
	}
	if l.N == 0 {
		return box
	}
	return fmt.Sprintf("%s %d, %s", l.Instrument, l.N, box)
}

// Mark is the number that a lead has on the drawing, with a space before it; ""
// where it has none.
func (l Lead) Mark() string {
	if l.N == 0 {
		return ""
	}
	return fmt.Sprintf(" %d", l.N)
}

// Who names the meter of a box, beginning with the word and number that the
// drawing has at it.
func (l Lead) Who() string {
	if l.N == 0 {
		return Capital(l.Meter)
	}
	return fmt.Sprintf("%s %d (%s)", Capital(l.Instrument), l.N, l.Meter)
}

// ReadOff says that a box is read off the watch meter.
func (l Lead) ReadOff() string {
	return fmt.Sprintf("%s: read off the watch meter, which is on the posts; no more leads for it", Capital(l.Box))
}

func (d *Desk) point(id string) Point {
	for _, p := range d.System.Points {
		if p.ID == id {
			return Point{p.ID, p.Name, p.Number, p.Terminal}
		}
	}
	return Point{ID: id, Name: id}
}

func (d *Desk) elementName(id string) string {
	for _, e := range d.System.Elements {
		if e.ID == id {
			return e.Name
		}
	}
	return id
}

// Shares from which a hypothesis is asked what a step would read, and from which
// its suspect is told.
const (
	askedFrom = 0.005
	toldFrom  = 0.02
)

// expect fills in what a step would read under each leading suspect, and warns
// where the meter's range may not do.
func (d *Desk) expect(out *Step, b *diagnosis.Belief, s planning.Step) error {
	if s.Procedure.Look != nil {
		d.expectLook(out, b, s)
		return nil
	}
	ps, err := b.Predict(s.Question, askedFrom)
	if err != nil {
		return fmt.Errorf("procedure %s: %w", s.Procedure.ID, err)
	}
	d.warn(out, s, ps)
	groups, order := map[string]*bundle{}, []string{}
	ids := b.SuspectIDs(d.groups)
	for _, p := range ps {
		if b.Hyps[p.Hyp].Intermittent {
			continue // while it does not show it reads as a sound vehicle
		}
		id := ids[p.Hyp]
		g, ok := groups[id]
		if !ok {
			g = &bundle{mix: make([][]diagnosis.Normal, len(p.Value))}
			groups[id], order = g, append(order, id)
		}
		g.add(p)
	}
	for _, id := range order {
		if g := groups[id]; g.share >= toldFrom {
			out.Expect = append(out.Expect, Expect{Suspect: orNoFault(id), Name: d.suspectName(id), Values: d.ranges(g, numeric(s.Question.Seek))})
		}
	}
	sortExpect(out.Expect, func(id string) float64 {
		if id == noFault {
			id = ""
		}
		return groups[id].share
	})
	out.Strips = d.strips(s.Question, groups, order, b.None())
	return nil
}

// bundle is what the hypotheses of one suspect say of each value.
type bundle struct {
	share float64
	mix   [][]diagnosis.Normal
}

func (g *bundle) add(p diagnosis.Predictive) {
	g.share += p.Share
	for v := range p.Value {
		for _, n := range p.Value[v] {
			n.Weight *= p.Share
			g.mix[v] = append(g.mix[v], n)
		}
	}
}

func (d *Desk) ranges(g *bundle, seek []question.Observable) []Range {
	var out []Range
	for v, mix := range g.mix {
		dim, _ := seek[v].Dim()
		r := rangeOf(seek[v].Note, dim, mix, g.share)
		if _, res, _, err := d.standard(seek[v], unit.FromUCUM(dim, r.Median)); err == nil {
			r.Resolution = res / scale(dim)
		}
		out = append(out, r)
	}
	return out
}

func orNoFault(id string) string {
	if id == "" {
		return noFault
	}
	return id
}

func rangeOf(name string, dim unit.Dim, mix []diagnosis.Normal, total float64) Range {
	for i := range mix {
		mix[i].Weight /= math.Max(total, 1e-12)
	}
	q := func(p float64) float64 { return finite(unit.ToUCUM(dim, diagnosis.Quantile(mix, p))) }
	return Range{Name: name, Dim: dim, Unit: unit.UCUM(dim), Median: q(0.5), Low: q(0.05), High: q(0.95)}
}

// numeric leaves out what the model does not predict.
func numeric(seek []question.Observable) []question.Observable {
	var out []question.Observable
	for _, o := range seek {
		if o.Kind != question.Look && o.Kind != question.Speed {
			out = append(out, o)
		}
	}
	return out
}

func (d *Desk) expectLook(out *Step, b *diagnosis.Belief, s planning.Step) {
	t := planning.Table(s.Procedure)
	share, sums, order := map[string]float64{}, map[string][]float64{}, []string{}
	ids := b.SuspectIDs(d.groups)
	for i := range b.Hyps {
		if b.Hyps[i].Intermittent || b.Posterior(i) < askedFrom {
			continue
		}
		id := ids[i]
		if sums[id] == nil {
			sums[id], order = make([]float64, len(t.Classes)), append(order, id)
		}
		share[id] += b.Posterior(i)
		for k, p := range b.LookProb(t, i) {
			sums[id][k] += b.Posterior(i) * p
		}
	}
	for _, id := range order {
		if share[id] < toldFrom {
			continue
		}
		for k := range sums[id] {
			sums[id][k] /= share[id]
		}
		out.Expect = append(out.Expect, Expect{Suspect: orNoFault(id), Name: d.suspectName(id), Classes: sums[id]})
	}
	sortExpect(out.Expect, func(id string) float64 {
		if id == noFault {
			id = ""
		}
		return share[id]
	})
	out.Looks = d.classes(t.Classes, sums, order, share, b.None())
}

// suspectName names a suspect by its first fault; with more of them, by the
// system's own first.
func (d *Desk) suspectName(id string) string {
	if id == "" {
		return "nothing wrong"
	}
	return d.faultName(id)
}

// rangeRisk is the probability of more amps than the meter shows from which a
// step carries a warning. Source: engineering review of the design; memory.
const rangeRisk = 0.01

// warn tells when the current may be more than the meter takes.
func (d *Desk) warn(out *Step, s planning.Step, ps []diagnosis.Predictive) {
	for v, o := range numeric(s.Question.Seek) {
		in, ok := d.meters[o.Meter]
		if o.Kind != question.Amps || !ok {
			continue
		}
		full := 0.0
		for _, r := range in.Ranges {
			if r.Kind == string(question.Amps) {
				full = math.Max(full, r.Full)
			}
		}
		over, total := 0.0, 0.0
		for _, p := range ps {
			total += p.Share
			over += p.Share * beyond(p.Value[v], full)
		}
		if total > 0 && over/total > rangeRisk {
			out.Warn = append(out.Warn, fmt.Sprintf("%s: more than %s is possible (%s), which is all that the %s shows: take a larger range, and a fuse where it is in series",
				o.Note, unit.Format(unit.Amp, full), Odds(over/total), in.Name))
		}
	}
}

// beyond is the probability that a value's size is above full.
func beyond(mix []diagnosis.Normal, full float64) float64 {
	above := func(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }
	p := 0.0
	for _, n := range mix {
		sd := math.Max(n.SD, 1e-9)
		p += n.Weight * (above((full-n.Mean)/sd) + above((full+n.Mean)/sd))
	}
	return p
}
