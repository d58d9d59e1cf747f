package advice

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"chargewright/question"
	"chargewright/unit"
)

// thin keeps a number and its unit on one line.
const thin = "\u00a0"

// Percent says a probability in whole percent, never 0 or 100.
func Percent(p float64) string {
	switch {
	case math.IsNaN(p):
		return "not known"
	case p < 0.01:
		return "under" + thin + "1" + thin + "%"
	case p > 0.99:
		return "over" + thin + "99" + thin + "%"
	}
	return strconv.Itoa(int(math.Round(100*p))) + thin + "%"
}

// length is a share as the length of a bar.
func length(p float64) string { return strconv.FormatFloat(100*min(max(p, 0), 1), 'f', 2, 64) + "%" }

// MinutesWords says a time: "under 1 min", "9 min", "1 h 10 min".
func MinutesWords(m float64) string {
	n := int(math.Round(m))
	switch {
	case m <= 0:
		return "0" + thin + "min"
	case n < 1:
		return "under 1" + thin + "min"
	case n < 100:
		return strconv.Itoa(n) + thin + "min"
	}
	return fmt.Sprintf("%d%sh %d%smin", n/60, thin, n%60, thin)
}

// MoneyWords says an amount in the workshop's own currency.
func MoneyWords(x float64) string { return strconv.Itoa(int(math.Round(x))) }

// Capital begins a text with a capital letter.
func Capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// Sentence is a text with a capital letter and a stop.
func Sentence(s string) string {
	s = Capital(strings.TrimSpace(s))
	if s == "" || strings.ContainsAny(s[len(s)-1:], ".?!") {
		return s
	}
	return s + "."
}

// Sign is a unit as people write it; the unit's own symbol is one that every
// keyboard has.
func Sign(dim unit.Dim) string {
	if dim == unit.Ohm {
		return "Ω"
	}
	return dim.Symbol()
}

// printed is how a meter shows a value: how much its unit is, decimal places,
// the unit's symbol. A millivolt range shows millivolts.
func printed(dim unit.Dim, x, resolution float64) (per float64, places int, symbol string) {
	per, places, symbol = 1.0, 2, Sign(dim)
	switch {
	case dim == unit.Volt && resolution > 0 && resolution < 1e-3:
		per, symbol = 1e-3, "mV"
	case dim == unit.Ohm && math.Abs(x) >= 1e3:
		per, symbol = 1e3, "kΩ"
	case dim == unit.Ohm && math.Abs(x) < 1 && x != 0:
		per, symbol = 1e-3, "mΩ"
	}
	if resolution > 0 {
		places = max(0, int(math.Round(-math.Log10(resolution/per))))
	}
	return per, places, symbol
}

func fixed(x, per float64, places int) string {
	s := strconv.FormatFloat(x/per, 'f', places, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

func withUnit(number, symbol string) string {
	if symbol == "" {
		return number
	}
	return number + thin + symbol
}

// shownAmount prints a number in a kind's UCUM unit, without a meter.
func shownAmount(dim unit.Dim, x float64) string {
	return strings.Replace(unit.Format(dim, unit.FromUCUM(dim, x)), " ", thin, 1)
}

// Words is a value as it was read, without its doubt.
func (v Value) Words() string {
	switch {
	case v.How == "class":
		return Capital(v.Class)
	case v.How == "not-taken":
		return strings.TrimSuffix("not taken: "+v.Why, ": ")
	case v.Value != nil:
		per, places, symbol := printed(v.Dim, *v.Value, v.Resolution)
		return withUnit(fixed(*v.Value, per, places), symbol)
	case v.Low != nil && v.High != nil:
		return shownAmount(v.Dim, *v.Low) + " to " + shownAmount(v.Dim, *v.High)
	case v.Low != nil:
		return "over " + shownAmount(v.Dim, *v.Low)
	case v.High != nil:
		return "under " + shownAmount(v.Dim, *v.High)
	}
	return ""
}

// Doubt is how near the true value lies, 19 times in 20; "" when that is not
// known.
func (v Value) Doubt() string {
	if v.Value == nil || v.U <= 0 {
		return ""
	}
	per, places, symbol := printed(v.Dim, *v.Value, v.Resolution)
	return withUnit("± "+fixed(2*v.U, per, max(places, 1)), symbol)
}

// Words is a limit: "0.70 V at most".
func (l Limit) Words(dim unit.Dim) string {
	at := ""
	if l.At != nil {
		at = fmt.Sprintf(" at %.0f%s°C", *l.At, thin)
	}
	switch {
	case l.Low != nil && l.High != nil:
		return shownAmount(dim, *l.Low) + " to " + shownAmount(dim, *l.High) + at
	case l.Low != nil && *l.Low < 0 && dim == unit.Amp: // minus = out of the battery
		return shownAmount(dim, -*l.Low) + " drawn at most" + at
	case l.Low != nil:
		return shownAmount(dim, *l.Low) + " at least" + at
	case l.High != nil:
		return shownAmount(dim, *l.High) + " at most" + at
	}
	return "no limit"
}

// Origin is where a limit comes from, with what the source is worth where that
// is little.
func (l Limit) Origin() string {
	switch l.Basis {
	case "read", "common practice":
		if l.Basis == "common practice" && !strings.Contains(l.Source, "practice") {
			return l.Source + ", common practice"
		}
		return l.Source
	case "invented":
		return "made-up vehicle: " + l.Source
	}
	return l.Source + ", " + l.Basis
}

// Likely says how likely the true value is within the limit.
func (l Limit) Likely() string { return Percent(l.PWithin) + " likely within" }

// Verdict words of a value against its first limit.
const (
	saysWithin = "Within the limit"
	saysNear   = "Too near the limit to call"
	saysOver   = "Over the limit"
	saysUnder  = "Under the limit"
	saysWait   = "Not to be called yet"
)

// Says is what a value is against its limit, "" without one.
func (v Value) Says() string {
	if len(v.Limits) == 0 {
		return ""
	}
	l := v.Limits[0]
	switch {
	case len(v.Notes) > 0 && l.Verdict == "cannot tell":
		return saysWait
	case l.Verdict == "within":
		return saysWithin
	case l.Verdict == "cannot tell":
		return saysNear
	case l.High != nil && v.stands() > *l.High:
		return saysOver
	case l.Low != nil:
		return saysUnder
	}
	return saysOver
}

// Call is what a value is against its first limit with how sure that is, or why
// it is not to be called yet; "" without a limit.
func (v Value) Call() string {
	switch says := v.Says(); says {
	case "":
		return ""
	case saysWait:
		return says + ": " + strings.Join(v.Notes, " ")
	default:
		return says + ": " + v.Limits[0].Likely()
	}
}

// stands is where a value lies, in its unit.
func (v Value) stands() float64 {
	switch {
	case v.Value != nil:
		return *v.Value
	case v.Low != nil && v.High != nil:
		return (*v.Low + *v.High) / 2
	case v.Low != nil:
		return *v.Low
	case v.High != nil:
		return *v.High
	}
	return 0
}

// Headline says a reading in one sentence: the value, and what it is against
// its limit. One that is more likely wrong than right is held against none.
func (r *Reading) Headline() string {
	value, says := r.judged()
	return value + ". " + says
}

// Brief is the headline for where the values stand beside it already: it names one
// only where there are others, or where it is to be seen that it is a bound.
func (r *Reading) Brief() string {
	value, says := r.judged()
	bound := slices.ContainsFunc(r.Values, func(v Value) bool { return v.Low != nil || v.High != nil })
	if bound || value != r.shown() {
		return value + ". " + says
	}
	return says
}

// judged is what a reading's headline speaks of, and what it says.
func (r *Reading) judged() (value, says string) {
	if r.PWrong > 0.5 {
		return r.shown(), "Most likely a slip: take it again."
	}
	for _, v := range r.Values {
		switch says := v.Says(); {
		case len(v.Limits) == 0:
		case says == saysWait:
			return v.Words(), says + "."
		default:
			return v.Words(), says + ": " + v.Limits[0].Likely() + "."
		}
	}
	return r.shown(), "No limit: see what it does to the causes."
}

// shown are the values of a reading as they were read.
func (r *Reading) shown() string {
	var all []string
	for _, v := range r.Values {
		all = append(all, v.Words())
	}
	return strings.Join(all, ", ")
}

// Words is a predicted range as the meter would show it, one figure where
// its ends read the same or nearly.
func (v Range) Words() string {
	const narrow = 0.02
	per, places, symbol := printed(v.Dim, v.Median, v.Resolution)
	size := math.Max(math.Abs(v.Low), math.Abs(v.High))
	if v.High-v.Low <= math.Max(narrow*size, v.Resolution) {
		return withUnit(fixed(v.Median, per, places), symbol)
	}
	return withUnit(fixed(v.Low, per, places)+" to "+fixed(v.High, per, places), symbol)
}

// Cost says what a step takes: its minutes with the hook-up, waiting, parts; "" where
// it takes none of its own.
func (step Step) Cost() string {
	var parts []string
	if minutes := step.Minutes.Work + step.Minutes.Hookup; minutes > 0 {
		parts = append(parts, MinutesWords(minutes))
	}
	if step.Minutes.Waiting > 0 {
		parts = append(parts, MinutesWords(step.Minutes.Waiting)+" waiting")
	}
	if step.Money > 0 {
		parts = append(parts, "parts "+MoneyWords(step.Money))
	}
	return strings.Join(parts, ", ")
}

// Verb says what kind of step it is.
func (step Step) Verb() string {
	switch step.Do {
	case "repair":
		return "Repair"
	case "repeat":
		return "Once more"
	case "look":
		return "Look"
	case "test":
		return "Test"
	}
	return "Next"
}

// Holds says what is held by hand while a step is read.
func (step Step) Holds() []string {
	var out []string
	for _, h := range step.Body.Hold {
		out = append(out, fmt.Sprintf(holdWords[h.What], withUnit(fmt.Sprint(math.Round(100*h.At)/100), h.Unit)))
	}
	return out
}

// holdWords are what is held by hand, as one says it.
var holdWords = map[string]string{
	"battery-volts": "Hold %s at the battery with the load", "bank-amps": "Set the load tester to %s", "output-amps": "Hold an output of %s",
}

// Heat says what the leading suspect's resistance makes of the current.
func (s *Standing) Heat() []string {
	var out []string
	for _, j := range s.Advice.Joints {
		out = append(out, fmt.Sprintf("%s: %s, and %s of heat at %s.", Capital(j.Name),
			shownAmount(unit.Ohm, round2(j.Ohms)), shownAmount(unit.Watt, round2(j.Watts)), shownAmount(unit.Amp, round2(j.Amps))))
	}
	return out
}

// Leads says what leads, and by how much.
func (s *Standing) Leads() Portion { return s.Portions()[0] }

// Temperature says a temperature that was given; "" for one that is derived.
func Temperature(t question.Temp) string {
	if t.Derive || t.K == 0 {
		return ""
	}
	return strings.Replace(unit.Format(unit.Kelvin, math.Round(t.K-unit.FromCelsius(0))+unit.FromCelsius(0)), " ", thin, 1)
}
