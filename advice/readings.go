package advice

import (
	"errors"
	"fmt"
	"math"

	"chargewright/diagnosis"
	"chargewright/meter"
	"chargewright/question"
	"chargewright/unit"
)

// A reading is pointed out when one as odd would come less often than this, or
// when it is likelier than that to be wrong.
const (
	oddBelow   = 0.01
	wrongAbove = 0.4
)

func (d *Desk) describeReadings(a *Advice, in Input, b *diagnosis.Belief) error {
	a.Order, a.Readings = []string{}, map[string]*Reading{}
	weights := map[string]diagnosis.Weight{}
	for _, w := range b.Why() {
		weights[w.Reading] = w
	}
	for i, r := range in.Readings {
		out, err := d.reading(in, b, i, weights[r.ID])
		if err != nil {
			return err
		}
		d.meant(out, b, r)
		a.Order = append(a.Order, r.ID)
		a.Readings[r.ID] = out
	}
	return nil
}

// Reading describes one reading of a job, without what the others say of it.
func (d *Desk) Reading(in Input, b *diagnosis.Belief, i int) (*Reading, error) {
	return d.reading(in, b, i, diagnosis.Weight{PSurprise: 1})
}

func (d *Desk) reading(in Input, b *diagnosis.Belief, i int, w diagnosis.Weight) (*Reading, error) {
	r := in.Readings[i]
	out := &Reading{
		Procedure: r.Question.Procedure, Name: d.readingName(r), Epoch: r.Epoch,
		PWrong: finite(w.PWrong), PSurprise: finite(w.PSurprise), Bits: map[string]float64{}, Values: []Value{},
	}
	for f, bits := range w.Bits {
		out.Bits[f] = finite(bits)
	}
	out.Unexplained = out.PSurprise < oddBelow || out.PWrong > wrongAbove
	for v := range r.Values {
		val, err := d.value(in, b, r, v)
		if err != nil {
			return nil, fmt.Errorf("reading %s: %w", r.ID, err)
		}
		out.Values = append(out.Values, val)
	}
	return out, nil
}

func (d *Desk) readingName(r question.Reading) string {
	if p, ok := d.Board.Procedure(r.Question.Procedure); ok {
		return p.Name
	}
	o := r.Question.Seek[0]
	if o.Through != "" {
		return string(o.Kind) + " through " + d.elementName(o.Through)
	}
	return string(o.Kind) + ", red on " + d.point(o.Red).Name + ", black on " + d.point(o.Black).Name
}

func (d *Desk) value(in Input, b *diagnosis.Belief, r question.Reading, v int) (Value, error) {
	o, x := r.Question.Seek[v], r.Values[v]
	out := Value{Name: o.Note, How: string(x.How), Class: x.Class, Why: x.Why}
	dim, numeric := o.Dim()
	if !numeric || x.How == question.Class || x.How == question.NotTaken {
		return out, nil
	}
	out.Dim, out.Unit = dim, unit.UCUM(dim)
	stands := x.X
	switch x.How {
	case question.Over:
		out.Low, stands = wire(dim, x.Lo), x.Lo
	case question.Under:
		out.High, stands = wire(dim, x.Hi), x.Hi
	case question.Between:
		out.Low, out.High, stands = wire(dim, x.Lo), wire(dim, x.Hi), (x.Lo+x.Hi)/2
	default:
		out.Value = wire(dim, x.X)
	}
	u, res, full, err := d.standard(o, stands)
	if err != nil {
		return out, err
	}
	if x.U > 0 {
		u = x.U
	}
	out.U, out.Resolution = u/scale(dim), res/scale(dim)
	if x.How == question.Measured && math.Abs(stands) > full {
		out.Notes = append(out.Notes, fmt.Sprintf("more than the %s can show, which ends at %s: nothing is judged by it", d.meters[o.Meter].Name, unit.Format(dim, full)))
		return out, nil
	}
	if cannot := d.cannotBe(o, x); cannot != "" {
		out.Notes = append(out.Notes, cannot+": nothing is judged by it")
		return out, nil
	}
	d.judge(&out, in, b, r, v, stands, u)
	return out, nil
}

// scale is how many SI units the UCUM unit of a kind is; temperatures are not
// read.
func scale(dim unit.Dim) float64 { return unit.FromUCUM(dim, 1) - unit.FromUCUM(dim, 0) }

func wire(dim unit.Dim, si float64) *float64 {
	x := unit.ToUCUM(dim, si)
	return &x
}

// standard is the uncertainty of the instrument, what it resolves, and the end of the
// range: a value above every range has those of the largest.
func (d *Desk) standard(o question.Observable, x float64) (u, res, full float64, err error) {
	in, ok := d.meters[o.Meter]
	if !ok {
		return 0, 0, math.Inf(1), nil // a person's own figure, taken as it is
	}
	u, res, full, err = in.Standard(string(o.Kind), x)
	var over *meter.OverRange
	if errors.As(err, &over) {
		u, res, full, err = in.Standard(string(o.Kind), math.Copysign(over.Full, x))
	}
	return u, res, full, err
}

// pWithin is the probability of standing within limits, for a value however it
// came about.
func pWithin(x question.Value, y, u float64, low, high *float64) float64 {
	switch x.How {
	case question.Over:
		if high != nil && x.Lo >= *high {
			return 0
		}
		if high == nil && low != nil && x.Lo >= *low {
			return 1
		}
		return 0.5
	case question.Under:
		if low != nil && x.Hi <= *low {
			return 0
		}
		if low == nil && high != nil && x.Hi <= *high {
			return 1
		}
		return 0.5
	case question.Between:
		u = math.Hypot(u, (x.Hi-x.Lo)/math.Sqrt(12)) // flat over the range
	}
	return meter.PWithin(y, u, low, high)
}
