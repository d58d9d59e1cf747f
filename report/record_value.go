package report

import (
	"chargewright/advice"
	"chargewright/question"
)

// value is one value as it leaves the program: what was asked, what came out,
// what it is held against.
func (d *desk) value(o question.Observable, x question.Value, v advice.Value) Value {
	out := Value{
		Box: v.Name, Quantity: string(o.Kind), Leads: d.leads(o), Red: o.Red, Black: o.Black, Through: o.Through,
		How: v.How, Value: exactly(v.Value), Low: exactly(v.Low), High: exactly(v.High), Unit: v.Unit,
		U: significant(v.U, 4), Resolution: significant(v.Resolution, 4), Class: v.Class, Why: v.Why,
		Shown: v.Words(), Doubt: v.Doubt(), Call: v.Call(), Limits: []Limit{}, Notes: v.Notes,
	}
	if o.Meter != "" && o.Kind != question.Look {
		out.Meter = o.Meter
	}
	if r, ok := rangeOf(o, x); ok {
		out.Accuracy = accuracy(r).Words
	}
	if x.U > 0 {
		out.Accuracy = "as stated by who read it"
	}
	for _, l := range v.Limits {
		out.Limits = append(out.Limits, limit(l, v))
	}
	return out
}

// limit is one limit of a value.
func limit(l advice.Limit, v advice.Value) Limit {
	alone := v
	alone.Limits = []advice.Limit{l}
	return Limit{bound(l, v), share(l.PWithin), advice.Percent(l.PWithin), l.Verdict, alone.Call()}
}

func bound(l advice.Limit, v advice.Value) Bound {
	out := Bound{
		ID: l.ID, Low: exactly(l.Low), High: exactly(l.High), Unit: l.Unit, AtUnit: l.AtUnit, Words: l.Words(v.Dim),
		Condition: l.Condition, Source: l.Source, Basis: l.Basis,
	}
	if l.At != nil {
		at := significant(*l.At, 4)
		out.At = &at
	}
	return out
}

// leads says where the meter went.
func (d *desk) leads(o question.Observable) string {
	switch {
	case o.Red != "" && o.Black != "":
		return "red on " + d.point(o.Red) + ", black on " + d.point(o.Black)
	case o.Through != "":
		return "through " + d.element(o.Through)
	}
	return ""
}
