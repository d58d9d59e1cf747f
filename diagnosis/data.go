package diagnosis

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
)

// boxes is the range over which a wrong value may fall, by kind, SI: what the
// meter can show in this trade on 12 V with a machine of 38 A (invented round
// figures; they set how far a single value can move the odds).
var boxes = map[question.Kind]float64{
	question.Volts: 20, question.Amps: 100, question.ACVolts: 2, question.Ohms: 1000, question.Density: 0.3,
}

// boxLows is where those ranges begin, 0 unless said.
var boxLows = map[question.Kind]float64{question.Amps: -50, question.Density: 1}

// box is the range of a kind on this vehicle, where it begins and how wide it is: volts go
// with the nominal voltage, amps with the largest machine once it gives more than the
// range holds. A sound reading outside it would make its being wrong next to impossible,
// and with it every fault but the one that reads so.
func (p *Prior) box(k question.Kind) (low, width float64) {
	times := 1.0
	switch sys := p.Model.Sys; k {
	case question.Volts, question.ACVolts:
		if sys.Volts > 0 {
			times = sys.Volts / boxVolts
		}
	case question.Amps:
		amps := math.Max(sys.Machine.RatedAmps, sys.SecondMachine.RatedAmps)
		times = math.Max(1, boxOver*amps/-boxLows[k])
	}
	return times * boxLows[k], times * boxes[k]
}

// What those ranges are for.
const (
	boxVolts = 12.0 // nominal
	boxOver  = 1.3  // of rated amps: a cold machine at high speed gives up to a quarter more [computed: coach-24, 101 A for 80]
)

var meterByKind = map[question.Kind]string{
	question.Volts: "dmm", question.Amps: "dc-clamp", question.ACVolts: "dmm", question.Ohms: "dmm", question.Density: "hydrometer",
}

// compile adds a reading's values to the data of a belief.
func (b *Belief) compile(r question.Reading) error {
	if len(r.Values) != len(r.Question.Seek) {
		return fmt.Errorf("reading %s: %d values for %d things asked", r.ID, len(r.Values), len(r.Question.Seek))
	}
	asked, err := b.prior.Model.Ask(r.Question)
	if err != nil {
		return fmt.Errorf("reading %s: %w", r.ID, err)
	}
	ri, ai, probe := len(b.Readings), len(b.asked), 0
	for vi, o := range r.Question.Seek {
		v := r.Values[vi]
		if o.Kind == question.Look {
			if err := b.compileLook(r, ri, vi); err != nil {
				return err
			}
			continue
		}
		if o.Kind == question.Speed {
			continue
		}
		at := probe
		probe++
		if v.How == question.NotTaken {
			continue
		}
		d, err := b.written(o, v)
		if err != nil {
			return fmt.Errorf("reading %s: %w", r.ID, err)
		}
		d.reading, d.value, d.asked, d.probe, d.showing, d.epoch = ri, vi, ai, at, r.Showing, r.Epoch
		b.data = append(b.data, d)
	}
	b.asked = append(b.asked, asked)
	b.Readings = append(b.Readings, r)
	return nil
}

func (b *Belief) compileLook(r question.Reading, ri, vi int) error {
	v := r.Values[vi]
	if v.How == question.NotTaken {
		return nil
	}
	t := b.prior.Look(r.Question.Procedure)
	if t == nil {
		return fmt.Errorf("reading %s: procedure %q has no table of what is seen", r.ID, r.Question.Procedure)
	}
	c := slices.Index(t.Classes, v.Class)
	if c < 0 {
		return fmt.Errorf("reading %s: %q is not one of %q", r.ID, v.Class, t.Classes)
	}
	l := look{ri, vi, t, c, r.Showing, r.Epoch}
	for i := range b.looks {
		// Looking again at the same thing in the same state tells nothing
		// new; what was seen last counts.
		if o := &b.looks[i]; b.Readings[o.reading].Question.Procedure == r.Question.Procedure && o.showing == l.showing && o.epoch == l.epoch {
			*o = l
			return nil
		}
	}
	b.looks = append(b.looks, l)
	return nil
}

// written is a value as somebody wrote it down. More than the meter can show is
// taken as it stands, with the uncertainty of the range's end: what was recorded
// counts, and will be found to be wrong.
func (b *Belief) written(o question.Observable, v question.Value) (datum, error) {
	d, err := b.datum(o, v)
	var over *meter.OverRange
	if !errors.As(err, &over) {
		return d, err
	}
	at := v
	at.How, at.X = question.Measured, math.Copysign(over.Full, over.X)
	end, err := b.datum(o, at)
	d.s, d.box = end.s, math.Max(d.box, end.box)
	return d, err
}

// datum gives a value its uncertainty: the meter's, or the person's own.
func (b *Belief) datum(o question.Observable, v question.Value) (datum, error) {
	d := datum{y: v.X, how: v.How, lo: v.Lo, hi: v.Hi}
	d.boxLow, d.box = b.prior.box(o.Kind)
	id := o.Meter
	if id == "" {
		id = meterByKind[o.Kind]
	}
	m, ok := b.prior.Meters[id]
	if !ok {
		return d, fmt.Errorf("meter %q is not in the list of instruments", id)
	}
	switch v.How {
	case question.Over:
		d.hi = math.Inf(1)
		d.y = v.Lo
	case question.Under:
		d.lo = math.Inf(-1)
		d.y = v.Hi
	case question.Between:
		d.y = (v.Lo + v.Hi) / 2
	}
	u, _, _, err := m.Standard(string(o.Kind), d.y)
	if err != nil {
		return d, err
	}
	d.s = u
	if v.U > 0 {
		d.s = v.U
	}
	if o.Kind == question.Ohms {
		// A wrong reading in ohms is wrong by decades: the box is in
		// proportion to the value.
		d.box = math.Max(20, 20*math.Abs(d.y))
	}
	if !(d.s > 0) {
		return d, fmt.Errorf("meter %s gives no uncertainty for %s at %g", id, o.Kind, d.y)
	}
	return d, nil
}

// logLooks is the log probability of the looks under a hypothesis.
func (b *Belief) logLooks(h *Hyp) float64 {
	sum := 0.0
	for _, l := range b.looks {
		sum += math.Log(b.lookProb(l.table, h, l.showing, l.epoch)[l.class])
	}
	return sum
}

// lookProb is P(class) under a hypothesis, slips of the pen included.
func (b *Belief) lookProb(t *LookTable, h *Hyp, showing question.Showing, epoch int) []float64 {
	p := slices.Clone(t.Otherwise)
	for _, f := range b.active(h, showing, epoch) {
		given, ok := t.Given[b.prior.faults()[f].ID]
		if !ok {
			continue
		}
		for i := range p {
			// Two faults act on a look as independent odds.
			p[i] *= given[i] / math.Max(t.Otherwise[i], 1e-6)
		}
	}
	total := 0.0
	for _, v := range p {
		total += v
	}
	e := b.prior.Settings.LookEpsilon
	for i := range p {
		p[i] = (1-e)*p[i]/total + e/float64(len(p))
	}
	return p
}

// active lists the faults of a hypothesis that a reading sees: those that show,
// and that no earlier repair has cured.
func (b *Belief) active(h *Hyp, showing question.Showing, epoch int) []int {
	if h.Intermittent && showing != question.DoingIt {
		return nil
	}
	if epoch == 0 || len(h.Faults) == 0 {
		return h.Faults
	}
	var out []int
	for _, f := range h.Faults {
		if !b.cured(f, epoch) {
			out = append(out, f)
		}
	}
	return out
}

// cured reports whether a repair before the epoch cures the fault.
func (b *Belief) cured(fault, epoch int) bool {
	for i, r := range b.repairs {
		if i < epoch && r.Class == b.prior.faults()[fault].Repair {
			return true
		}
	}
	return false
}

func (b *Belief) physical(h *Hyp, showing question.Showing, epoch int) prediction.Hypothesis {
	return prediction.Hypothesis{Faults: b.active(h, showing, epoch)}
}
