package job

import (
	"math"
	"regexp"
	"strings"

	"chargewright/meter"
	"chargewright/question"
	"chargewright/unit"
)

// boxUnits are the units that a box offers, the usual one first. Nothing else
// is refused for it: a unit that stands with the number counts.
var boxUnits = map[unit.Dim][]string{
	unit.Volt: {"V", "mV"}, unit.Amp: {"A", "mA"}, unit.Ohm: {"Ω", "mΩ", "kΩ"}, unit.AngularSpeed: {"rpm"}, unit.Farad: {"µF"},
}

// BoxUnits lists the units that the box of an observable offers; none for a
// plain number or a look.
func BoxUnits(o question.Observable) []string {
	dim, ok := o.Dim()
	if !ok {
		return nil
	}
	return boxUnits[dim]
}

var (
	endsInDigit = regexp.MustCompile(`[0-9]$`)
	overAlone   = regexp.MustCompile(`^(?:over|ol|o\.l\.|overload)$`)
	underAlone  = regexp.MustCompile(`^(?:under|below|<)$`)
	halfRange   = regexp.MustCompile(`(?i)^(?:to|and)\b|\b(?:to|and)$`)
)

// Typed reads what somebody typed into the box of an observable: a number with
// or without unit ("0.42", "0,42 V", "420 mV"), "over" for above the meter's
// range, "over 10 A", "0.5 to 0.7", or one class of a look. A number without a
// unit has the one given. What cannot be read is a *unit.Refusal.
func Typed(text, symbol string, o question.Observable) (ValueBody, error) {
	text = strings.TrimSpace(text)
	refuse := func(what, instead string) (ValueBody, error) {
		return ValueBody{}, &unit.Refusal{Given: text, What: what, Instead: instead}
	}
	if text == "" {
		if o.Optional {
			return ValueBody{How: string(question.NotTaken)}, nil
		}
		return refuse("is empty", example([]want{wantOf(o)}))
	}
	if o.Classes != nil {
		for _, c := range o.Classes {
			if c == text {
				return ValueBody{How: string(question.Class), Class: c}, nil
			}
		}
		return refuse("is none of the answers", strings.Join(o.Classes, ", or "))
	}
	dim, _ := o.Dim()
	lower := strings.ToLower(text)
	if overAlone.MatchString(lower) {
		if top, ok := topRange(o); ok {
			return ValueBody{How: string(question.Over), Lo: top}, nil
		}
		return refuse("does not say over what", "a bound such as over "+dim.Example())
	}
	if underAlone.MatchString(lower) {
		return refuse("does not say under what", "a bound such as under "+dim.Example())
	}
	if halfRange.MatchString(lower) {
		return refuse("has one end only", "the lowest and the highest with “to” between, or one number alone")
	}
	for _, w := range []string{"over", "above", "under", "below", "between"} {
		if strings.HasPrefix(lower, w) {
			text = w + text[len(w):]
		}
	}
	if endsInDigit.MatchString(text) && symbol != "" {
		text += " " + symbol
	}
	v, err := parseValue(text, dim)
	if err != nil {
		return ValueBody{}, err
	}
	for _, x := range []float64{v.X, v.Lo, v.Hi} {
		if math.IsInf(x, 0) || math.IsNaN(x) {
			return refuse("is no number that a meter shows", "a value such as "+dim.Example())
		}
	}
	return v, nil
}

func wantOf(o question.Observable) want {
	w := want{name: o.Note, classes: o.Classes, optional: o.Optional}
	w.dim, _ = o.Dim()
	return w
}

// topRange is the end of the largest range that a meter has for a quantity.
func topRange(o question.Observable) (float64, bool) {
	in, ok := meter.Find(o.Meter)
	if !ok {
		return 0, false
	}
	top := 0.0
	for _, r := range in.Ranges {
		if r.Kind == string(o.Kind) {
			top = max(top, r.Full)
		}
	}
	return top, top > 0
}

// Observables are what a reading asks for by itself, in the order of its
// values: those of its procedure, or the one of a free reading. Left out, the
// meter of a free reading is the usual one for the quantity.
func (s Shelf) Observables(j *Job, b *ReadingBody) ([]question.Observable, error) {
	if p, ok := s.Catalogue[b.Procedure]; ok {
		return p.Seek(), nil
	}
	o, err := (&folder{shelf: s, j: j}).freeObservable(b)
	if err != nil {
		return nil, err
	}
	return []question.Observable{o}, nil
}
