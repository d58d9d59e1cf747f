package advice

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"chargewright/diagnosis"
	"chargewright/question"
	"chargewright/unit"
)

// Meant is what a value that is wrong was probably meant to be.
type Meant struct {
	Slip        string   `json:"slip"`            // nothing, point, milli, other-sign
	Value       *float64 `json:"value,omitempty"` // in the value's unit; absent where nothing says it
	Probability float64  `json:"probability"`     // that it is this slip, the value being wrong

	Words string `json:"-"` // the value as the meter would show it; "" where nothing says it
	Why   string `json:"-"` // the slip in words
}

// slipWords says a slip.
func slipWords(s diagnosis.Slip, kind question.Kind) string {
	switch {
	case s == diagnosis.PointSlip:
		return "a slip of the point"
	case s == diagnosis.MilliSlip:
		return "another unit, with milli or kilo or without"
	case s == diagnosis.LeadsSwaps && kind == question.Amps:
		return "the clamp or the leads the other way round"
	case s == diagnosis.LeadsSwaps:
		return "the leads the other way round"
	case kind == question.Amps:
		return "a clamp round nothing, or the ammeter's fuse"
	}
	return "a probe that did not touch"
}

// meant says of the values of a reading that is probably wrong what they were meant to
// be.
func (d *Desk) meant(out *Reading, b *diagnosis.Belief, r question.Reading) {
	at := slices.IndexFunc(b.Readings, func(x question.Reading) bool { return x.ID == r.ID })
	if at < 0 || out.PWrong <= wrongAbove {
		return
	}
	for v := range out.Values {
		m, ok := b.Meant(at, v)
		if !ok {
			continue
		}
		o := r.Question.Seek[v]
		x := &Meant{Slip: string(m.Slip), Probability: m.P, Why: slipWords(m.Slip, o.Kind)}
		if !math.IsNaN(m.Value) {
			dim := out.Values[v].Dim
			si := digits(m.Value)
			x.Value = wire(dim, si)
			x.Words = strings.Replace(unit.Format(dim, si), " ", thin, 1)
		}
		out.Values[v].Meant = x
	}
}

// undoubted says that the latest values of a long job are not doubted.
func undoubted(values int) []string {
	if values <= diagnosis.MostDoubted {
		return nil
	}
	return []string{fmt.Sprintf("%d values were taken: those after the first %d count as right, whatever they say", values, diagnosis.MostDoubted)}
}

// digits leaves a number the figures that somebody wrote down: a hundredth of it has no
// more.
func digits(x float64) float64 {
	if x == 0 {
		return 0
	}
	step := math.Pow(10, 8-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*step) / step
}

// Probably says what went wrong with a reading's values; "" when nothing says it.
func (r *Reading) Probably() string {
	var out []string
	for _, v := range r.Values {
		switch m := v.Meant; {
		case m == nil:
		case m.Words == "":
			out = append(out, m.Why)
		default:
			out = append(out, m.Words+", "+m.Why)
		}
	}
	return strings.Join(out, "; ")
}

// Doubts asks about a typed value before it counts: one that no cause leads to, or that
// the meter cannot show or such a vehicle cannot give. Nil when it needs no asking.
func (d *Desk) Doubts(step *Step, o question.Observable, v question.Value) *Question {
	var q *Question
	for k := range step.Strips {
		if s := &step.Strips[k]; s.Box == o.Note && q == nil {
			q = s.Doubts(v)
		}
	}
	if cannot := d.cannotBe(o, v); cannot != "" {
		if dim, _ := o.Dim(); q == nil {
			q = &Question{Ask: shownAmount(dim, unit.ToUCUM(dim, v.X)) + "?"}
		}
		q.Ask += " " + Sentence(cannot)
	}
	q.say()
	return q
}

// cannotBe says why a measured value cannot be right; "" when it can.
func (d *Desk) cannotBe(o question.Observable, v question.Value) string {
	dim, numeric := o.Dim()
	if !numeric || v.How != question.Measured || math.Abs(v.X) <= d.Prior.Most(o) {
		return ""
	}
	if _, _, full, err := d.standard(o, v.X); err == nil && math.Abs(v.X) > full {
		return fmt.Sprintf("the %s ends at %s", d.meters[o.Meter].Name, unit.Format(dim, full))
	}
	return fmt.Sprintf("a vehicle of %s cannot give that", unit.Format(unit.Volt, d.System.Volts))
}

// say names what a typed value probably was.
func (q *Question) say() {
	switch {
	case q == nil:
	case len(q.Instead) == 1:
		q.Ask += " Probably " + q.Instead[0].Why + ": " + q.Instead[0].Text + "."
	case len(q.Instead) > 1:
		q.Ask += " Probably a slip: choose what was meant."
	}
}
