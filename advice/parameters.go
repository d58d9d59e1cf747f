package advice

import (
	"math"
	"slices"

	"chargewright/diagnosis"
	"chargewright/question"
	"chargewright/system"
	"chargewright/unit"
)

// narrowed is the share of its prior spread that a figure must have kept at
// most to be worth telling.
const narrowed = 0.8

// describeParameters tells what the readings say of the vehicle's own figures,
// given the leading suspect: how bad the fault is, and every free figure that
// they have narrowed.
func (d *Desk) describeParameters(a *Advice, b *diagnosis.Belief) {
	a.Parameters, a.Joints = []Parameter{}, []Joint{}
	lead, ok := d.leader(a, b)
	if !ok || len(b.Readings) == 0 {
		return
	}
	given := d.faultOf(b, lead)
	f := d.System.Faults[b.Hyps[lead].Faults[0]]
	if f.Magnitude != nil {
		if p, ok := b.Param(lead, "magnitude"); ok {
			m := d.parameter("magnitude", "how bad: "+f.Name, f.Magnitude.Dim, p, given)
			a.Parameters = append(a.Parameters, m)
			d.joint(a, b, lead, f, m)
		}
	}
	for _, c := range d.Model.Coords {
		if slices.ContainsFunc(f.Changes, func(x system.Change) bool { return x.Target == c.ID }) {
			continue // told as the magnitude
		}
		p, ok := b.Param(lead, c.ID)
		if ok && d.tells(c.ID, p) {
			a.Parameters = append(a.Parameters, d.parameter(c.ID, c.Name, c.Dim, p, given))
		}
	}
}

func (d *Desk) parameter(id, name string, dim unit.Dim, p diagnosis.Interval, given string) Parameter {
	return Parameter{
		ID: id, Name: name, Dim: dim, Unit: unit.UCUM(dim), Coverage: p.Coverage, Given: given,
		Median: finite(unit.ToUCUM(dim, p.Median)), Low: finite(unit.ToUCUM(dim, p.Low)), High: finite(unit.ToUCUM(dim, p.High)),
	}
}

// tells reports whether a figure is narrower than before the readings, in
// spreads of its prior. Terms that stand for the model's own error are none.
func (d *Desk) tells(id string, p diagnosis.Interval) bool {
	for k, c := range d.Model.Coords {
		if c.ID != id {
			continue
		}
		lo, hi := d.Model.FromZ(k, -1.645), d.Model.FromZ(k, 1.645)
		if lo == hi || (lo == -1.645 && hi == 1.645) {
			return false
		}
		if lo > 0 && hi > 0 && p.Low > 0 && p.High > 0 {
			return math.Log(p.High/p.Low) < narrowed*math.Abs(math.Log(hi/lo))
		}
		return p.High-p.Low < narrowed*math.Abs(hi-lo)
	}
	return false
}

// warm is the heat from which a joint is worth a word [W]: less is not felt by a hand
// (memory).
const warm = 0.5

// joint tells the heat of a suspect that is a resistance, where it is felt.
func (d *Desk) joint(a *Advice, b *diagnosis.Belief, lead int, f system.Fault, m Parameter) {
	for _, c := range f.Changes {
		i := slices.IndexFunc(d.System.Elements, func(e system.Element) bool { return e.ID == c.Target })
		if i < 0 || c.How != "magnitude" || d.System.Elements[i].Kind == system.Gap {
			continue
		}
		e := d.System.Elements[i]
		amps, ok := d.fullAmps(b, lead, e, m.Median)
		if watts := amps * amps * m.Median; !ok || watts < warm {
			continue
		}
		a.Joints = append(a.Joints, Joint{
			ID: e.ID, Name: e.Name, Ohms: m.Median, Low: m.Low, High: m.High, Unit: m.Unit,
			Amps: amps, Watts: amps * amps * m.Median, Given: m.Given,
		})
	}
}

// fullAmps is the current through an element when the alternator gives its rated
// current: what it carries in a setup where a load tester draws, in proportion
// to the output. For a branch that carries little of the output, and for a joint
// that would take more volts than a machine has to spare, it is what the suspect
// itself lets through.
func (d *Desk) fullAmps(b *diagnosis.Belief, lead int, e system.Element, ohms float64) (float64, bool) {
	out := slices.IndexFunc(d.System.Elements, func(x system.Element) bool {
		return x.From == d.System.Machine.Output && (x.Kind == system.Joint || x.Kind == system.Wire)
	})
	if out < 0 {
		return 0, false
	}
	for i, p := range d.Board.Procs {
		if !slices.ContainsFunc(p.Hold, func(h question.Hold) bool { return h.What == "bank-amps" }) {
			continue
		}
		q := d.Board.Question(i, question.Setup{})
		if q.Setup.Engine <= 0 {
			continue
		}
		q.Seek = []question.Observable{{Kind: question.Amps, Through: e.ID}, {Kind: question.Amps, Through: d.System.Elements[out].ID}}
		here, ok := d.typical(b, lead, q)
		if !ok {
			continue
		}
		const (
			main  = 0.3 // share of the output from which a branch counts as part of its path
			spare = 3.0 // [V] that a 12 V machine may be asked for on top (memory)
		)
		own, all := math.Abs(here[0]), math.Abs(here[1])
		full := own / math.Max(all, 1) * d.System.Machine.RatedAmps
		if own > main*all && full*ohms < spare*d.System.Volts/12 {
			return full, true
		}
		return own, true
	}
	return 0, false
}

// typical is the median prediction of a question under one hypothesis.
func (d *Desk) typical(b *diagnosis.Belief, hyp int, q question.Question) ([]float64, bool) {
	ps, err := b.Predict(q, b.Posterior(hyp))
	if err != nil {
		return nil, false
	}
	for _, p := range ps {
		if p.Hyp != hyp {
			continue
		}
		out := make([]float64, len(p.Value))
		for v := range p.Value {
			if len(p.Value[v]) == 0 {
				return nil, false
			}
			out[v] = diagnosis.Quantile(p.Value[v], 0.5)
		}
		return out, true
	}
	return nil, false
}
