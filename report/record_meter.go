package report

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"

	"chargewright/meter"
	"chargewright/question"
	"chargewright/unit"
)

// catalogue is the built-in instruments.
var catalogue = sync.OnceValue(meter.Catalogue)

// kindDims are what the meters' kinds are measured in.
func kindDim(kind string) unit.Dim {
	dim, _ := question.Observable{Kind: question.Kind(kind)}.Dim()
	return dim
}

// readIn says whether a reading of the job was taken in a range of an instrument.
func (d *desk) readIn(in meter.Instrument, r meter.Range) bool {
	for _, x := range d.j.Readings {
		for i, o := range x.Question.Seek {
			if i >= len(x.Values) || o.Meter != in.ID || string(o.Kind) != r.Kind {
				continue
			}
			if got, ok := rangeOf(o, x.Values[i]); ok && got == r {
				return true
			}
		}
	}
	return false
}

// rangeOf is the range that a value was read in: the smallest that holds it, the
// largest where it is over all of them.
func rangeOf(o question.Observable, v question.Value) (meter.Range, bool) {
	at := v.X
	switch v.How {
	case question.Over:
		at = v.Lo
	case question.Under:
		at = v.Hi
	case question.Between:
		at = math.Max(math.Abs(v.Lo), math.Abs(v.Hi))
	case question.Class, question.NotTaken:
		return meter.Range{}, false
	}
	in, ok := meter.Find(o.Meter)
	if !ok {
		return meter.Range{}, false
	}
	r, err := in.Range(string(o.Kind), at)
	var over *meter.OverRange
	if errors.As(err, &over) {
		r, err = in.Range(string(o.Kind), math.Copysign(over.Full, at))
	}
	return r, err == nil
}

// accuracy puts a range into words.
func accuracy(r meter.Range) Accuracy {
	dim := kindDim(r.Kind)
	say := func(x float64) string {
		if dim == unit.One {
			return fmt.Sprintf("%g", x)
		}
		return kept(unit.Format(dim, x))
	}
	var parts []string
	if r.Percent > 0 {
		parts = append(parts, fmt.Sprintf("%g\u00a0%%", r.Percent))
	}
	if r.Counts > 0 {
		parts = append(parts, fmt.Sprintf("%g\u00a0×\u00a0%s", r.Counts, say(r.Resolution)))
	}
	if r.PercentFS > 0 {
		parts = append(parts, fmt.Sprintf("%g\u00a0%% of full scale", r.PercentFS))
	}
	text := "to " + say(r.Full) + ": ±\u00a0(" + strings.Join(parts, " + ") + ")"
	if len(parts) == 0 {
		text = "to " + say(r.Full) + ": no limit of error given"
	}
	if r.HookUp > 0 {
		text += ", hook-up " + say(r.HookUp)
	}
	return Accuracy{Quantity: r.Kind, Full: exact(unit.ToUCUM(dim, r.Full)), Unit: unit.UCUM(dim), Words: text}
}
