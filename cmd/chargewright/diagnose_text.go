package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/unit"
)

// diagnosis is the whole answer for people.
func (t *text) diagnosis(j *job.Job, a advice.Advice, top int) {
	t.opening(j, a)
	t.readings(a)
	t.causes(a, top)
	t.evidence(a)
	t.odd(a, j.Guessed)
	t.figures(a)
	t.next(a)
}

func (t *text) opening(j *job.Job, a advice.Advice) {
	name := a.Job
	if name == "" {
		name = "Job without an id"
	}
	t.head("%s - %s", name, a.System.Name)
	if j.Complaint.Kind != "" {
		t.hang("Complaint: ", strings.TrimSpace(strings.ReplaceAll(j.Complaint.Kind, "-", " ")+"  "+quoted(j.Complaint.Words)))
	}
	if a.Complaint != nil {
		t.hang("           ", fmt.Sprintf("before any reading the battery counts as about %.0f %% charged (%s)", 100*a.Complaint.Charge, a.Complaint.Basis))
	}
	for i, s := range a.Assumed {
		lead := "Taken for granted: "
		if i > 0 {
			lead = "                   "
		}
		t.hang(lead, s)
	}
	for _, r := range a.Repairs {
		t.hang("Done: ", fmt.Sprintf("%s (%s); complaint gone: %s", r.Name, r.ID, r.Gone()))
	}
}

func quoted(s string) string {
	if s == "" {
		return ""
	}
	return `"` + s + `"`
}

func (t *text) readings(a advice.Advice) {
	if len(a.Order) == 0 {
		return
	}
	t.head("READINGS")
	epoch := 0
	for _, id := range a.Order {
		r := a.Readings[id]
		if r.Epoch != epoch {
			epoch = r.Epoch
			t.line(2, "after repair %d", epoch)
		}
		name := r.Name
		if r.PWrong > 0.5 {
			name += " (most likely a slip, see below)"
		}
		t.hang(fmt.Sprintf("  %-4s", id), name)
		for _, v := range r.Values {
			t.value(v)
		}
	}
}

// value is one line: name, value with its doubt, verdict.
func (t *text) value(v advice.Value) {
	t.reading(v)
	for i, l := range v.Limits {
		at, word := "", ""
		if l.At != nil {
			at = fmt.Sprintf(" at %.0f °C", *l.At)
		}
		if l.Verdict != v.Verdict {
			word = l.Verdict + ": "
		}
		tail := l.Condition + " (" + l.Origin() + ")"
		if i > 0 {
			tail = l.Basis
		}
		t.hang("        ", fmt.Sprintf("%slimit %s%s: %s that it is within; %s", word, limits(l, v.Dim), at, percent(l.PWithin), tail))
	}
	for _, n := range v.Notes {
		t.hang("        note: ", n)
	}
}

// reading is a value's name, the value, its verdict; a long name has a line of
// its own.
func (t *text) reading(v advice.Value) {
	const name, value = 32, 25
	label := v.Name
	if utf8.RuneCountInString(label) >= name {
		t.line(6, "%s", label)
		label = ""
	}
	t.columns(6, []int{name, value}, label, shown(v), t.verdict(v.Verdict))
}

func (t *text) verdict(word string) string {
	switch word {
	case "within":
		return t.paint(green, word)
	case "outside":
		return t.paint(red, word)
	}
	return t.paint(yellow, word)
}

// short keeps a cell in its column.
func short(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-2]) + ".."
}

// shown is a value as it was read, with twice its standard uncertainty.
func shown(v advice.Value) string {
	switch {
	case v.How == "class":
		return v.Class
	case v.How == "not-taken":
		return strings.TrimSuffix("not taken: "+v.Why, ": ")
	case v.Value != nil:
		return read(v, *v.Value)
	case v.Low != nil && v.High != nil:
		return amountOf(v.Dim, *v.Low) + " to " + amountOf(v.Dim, *v.High)
	case v.Low != nil:
		return "over " + amountOf(v.Dim, *v.Low)
	case v.High != nil:
		return "under " + amountOf(v.Dim, *v.High)
	}
	return ""
}

// read prints a value to its meter's resolution with its doubt in the same unit.
func read(v advice.Value, x float64) string {
	per, places, symbol := printed(v.Dim, x, v.Resolution)
	return strings.TrimSpace(fmt.Sprintf("%s +/- %.*f %s", zero(fmt.Sprintf("%.*f", places, x/per)), max(places, 1), 2*v.U/per, symbol))
}

// printed is how a meter shows a value: how much its unit is, decimal places, the
// unit's symbol. A millivolt range shows millivolts.
func printed(dim unit.Dim, x, resolution float64) (per float64, places int, symbol string) {
	per, places, symbol = 1.0, 2, dim.Symbol()
	switch {
	case dim == unit.Volt && resolution > 0 && resolution < 1e-3:
		per, symbol = 1e-3, "mV"
	case dim == unit.Ohm && math.Abs(x) >= 1e3:
		per, symbol = 1e3, "kohm"
	}
	if resolution > 0 {
		places = max(0, int(math.Round(-math.Log10(resolution/per))))
	}
	return per, places, symbol
}

// amountOf prints a number that stands in a kind's UCUM unit.
func amountOf(dim unit.Dim, x float64) string { return unit.Format(dim, unit.FromUCUM(dim, x)) }

func limits(l advice.Limit, dim unit.Dim) string {
	switch {
	case l.Low != nil && l.High != nil:
		return amountOf(dim, *l.Low) + " to " + amountOf(dim, *l.High)
	case l.Low != nil:
		return "at least " + amountOf(dim, *l.Low)
	case l.High != nil:
		return "at most " + amountOf(dim, *l.High)
	}
	return "none"
}

func (t *text) causes(a advice.Advice, top int) {
	t.head("LIKELY CAUSES")
	for i, s := range a.Suspects {
		if i == top || i > 0 && s.Probability < 0.005 {
			break
		}
		t.cause(fmt.Sprintf("  %d. ", i+1), s.Name, s.Probability)
		cure := s.RepairName
		if s.Mended {
			cure += " (done)"
		}
		t.hang("     cure: ", cure)
		if i == 0 && s.Faults[0].Note != "" {
			t.hang("     ", s.Faults[0].Note)
		}
		if quiet := intermittent(s); quiet > 0.05*s.Probability {
			t.hang("     ", fmt.Sprintf("comes and goes: with %s of it, it was not there while the readings were taken", percent(quiet/s.Probability)))
		}
	}
	t.cause("     ", "nothing wrong", a.NoFault)
	t.cause("     ", "something not on the list", a.NoneOfThese)
	if len(a.Repairs) > 0 {
		t.cause("     ", "nothing on the list is left after the repairs", a.Mended)
	}
}

func intermittent(s advice.Suspect) float64 {
	sum := 0.0
	for _, f := range s.Faults {
		sum += f.Intermittent
	}
	return sum
}

// cause is a name with its odds at the right.
func (t *text) cause(lead, name string, p float64) {
	const room = 43
	lines := wrapText(name, room)
	for i, l := range lines[:len(lines)-1] {
		if i > 0 {
			lead = strings.Repeat(" ", len(lead))
		}
		t.WriteString(lead + l + "\n")
	}
	if len(lines) > 1 {
		lead = strings.Repeat(" ", len(lead))
	}
	t.columns(0, []int{50, 13}, lead+lines[len(lines)-1], percent(p), advice.Odds(p))
}

// evidence says which readings spoke for and against the leading cause.
func (t *text) evidence(a advice.Advice) {
	if len(a.Suspects) == 0 || len(a.Order)+len(a.Told) == 0 {
		return
	}
	lead := a.Suspects[0].Faults[0]
	type says struct {
		id, what string
		bits     float64
	}
	var all []says
	for _, id := range a.Order {
		if b, ok := a.Readings[id].Bits[lead.Fault]; ok && math.Abs(b) >= advice.LeastBits {
			all = append(all, says{id, a.Readings[id].Name, b})
		}
	}
	for _, h := range a.Told {
		if b, ok := h.Bits[lead.Fault]; ok && math.Abs(b) >= advice.LeastBits {
			all = append(all, says{"told", h.Spoken(), b})
		}
	}
	if len(all) == 0 {
		t.head("WHY %s", lead.Name)
		t.line(2, "No single reading decides: with any one of them left out the same cause leads.")
		return
	}
	slices.SortStableFunc(all, func(x, y says) int { return cmp.Compare(y.bits, x.bits) })
	t.head("WHY %s", lead.Name)
	for _, s := range all {
		word := "for"
		if s.bits < 0 {
			word = "against"
		}
		t.hang(fmt.Sprintf("  %-8s%-5s", word, s.id), fmt.Sprintf("%s (%s)", s.what, advice.Factor(s.bits)))
	}
	if len(a.Told) > 0 {
		t.line(2, "%s", advice.ToldBound())
	}
	t.line(2, "Each reading is weighed with all the others known, so what two of them say together is not counted twice.")
}

// half is the share of none of these from which a guessed hook-up is pointed at.
const half = 0.5

// odd points at readings that nothing explains, and at hook-ups that were guessed where
// nothing explains them all.
func (t *text) odd(a advice.Advice, guessed []string) {
	var ids []string
	for _, id := range a.Order {
		if a.Readings[id].Unexplained {
			ids = append(ids, id)
		}
	}
	if a.NoneOfThese < half {
		guessed = nil
	}
	if len(ids)+len(guessed) == 0 {
		return
	}
	t.head("DOES NOT FIT")
	if len(guessed) > 0 {
		t.hang("  ", strings.Join(guessed, ", ")+": nobody said how the vehicle stood, so it counts as in the test before. Where lamps, load or engine stood otherwise, say so in it or by an entry before it, such as rig: {accessories: \"on\"}: that alone can leave nothing on the list.")
	}
	for _, id := range ids {
		r := a.Readings[id]
		say := fmt.Sprintf("%s: one so far out would come in %s of such jobs", r.Name, percent(r.PSurprise))
		if r.PWrong > 0.05 {
			say = fmt.Sprintf("%s: %s that it is wrong (wrong point, misread, wrong range)", r.Name, percent(r.PWrong))
		}
		do := ". Repeat it with the leads re-seated."
		if probably := r.Probably(); probably != "" {
			say = fmt.Sprintf("%s: %s that it is wrong, probably %s", r.Name, percent(r.PWrong), strings.ReplaceAll(probably, "\u00a0", " "))
			do = ". Correct it or repeat it."
		}
		t.hang(fmt.Sprintf("  %-5s", id), say+do)
	}
}

func (t *text) figures(a advice.Advice) {
	if len(a.Parameters) == 0 {
		return
	}
	t.head("WHAT THE READINGS SAY OF THE VEHICLE, given the first cause")
	for _, p := range a.Parameters {
		t.hang("  "+pad(short(p.Name, 45), 46), span(p.Dim, p.Median, p.Low, p.High))
	}
	for _, j := range a.Joints {
		t.hang("  ", fmt.Sprintf("%s: %s at %s makes %s of heat", j.Name, figure(unit.Ohm, j.Ohms), figure(unit.Amp, j.Amps), figure(unit.Watt, j.Watts)))
	}
}

// figure prints three figures of a number in a kind's UCUM unit.
func figure(dim unit.Dim, x float64) string {
	if x == 0 {
		return unit.Format(dim, 0)
	}
	step := math.Pow(10, math.Floor(math.Log10(math.Abs(x)))-2)
	return unit.Format(dim, unit.FromUCUM(dim, math.Round(x/step)*step))
}

// span is a median with its 90 % interval.
func span(dim unit.Dim, median, low, high float64) string {
	return fmt.Sprintf("%s (%s to %s)", figure(dim, median), figure(dim, low), figure(dim, high))
}
