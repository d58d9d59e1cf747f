package advice

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"chargewright/diagnosis"
	"chargewright/question"
	"chargewright/unit"
)

// Change is what one reading did.
type Change struct {
	Reading  *Reading
	Headline string
	Before   []Portion
	After    []Portion
	Weights  []WeightLine
	Odd      []string // what does not fit, as sentences
	Moved    string   // one sentence on the causes
}

// WeightLine is what a reading says of one cause, as odds.
type WeightLine struct {
	Letter, Name, Odds string
	For                bool
	Bar                string // length of a half bar
}

// doubted is the probability of a wrong value from which it is said to be taken
// again.
const doubted = 0.2

// Since is what a reading did to a job: before it, and with it.
func (s *Standing) Since(before *Standing, id string) Change {
	r := s.Advice.Readings[id]
	if r == nil {
		return Change{}
	}
	c := Change{Reading: r, Headline: r.Headline(), Before: before.Portions(), After: s.Portions(), Weights: s.Weights(id)}
	c.Moved = s.moved(before)
	if r.PWrong > doubted {
		say := "wrong point, misread or wrong range. Seat the leads anew"
		if probably := r.Probably(); probably != "" {
			say = "probably " + probably
		}
		c.Odd = append(c.Odd, Sentence(Percent(r.PWrong)+" likely that a value of it is wrong: "+say))
	} else if r.Unexplained {
		c.Odd = append(c.Odd, fmt.Sprintf("Nothing on the list explains it well: one so far out would come in %s of such jobs.", Percent(r.PSurprise)))
	}
	for _, other := range s.Advice.Order {
		x := s.Advice.Readings[other]
		was := before.Advice.Readings[other]
		if other != id && x.Unexplained && (was == nil || !was.Unexplained) {
			c.Odd = append(c.Odd, "With it, an earlier reading no longer fits: "+x.Name+".")
		}
	}
	return c
}

// moved says which cause leads, and from where it came.
func (s *Standing) moved(before *Standing) string {
	if len(s.Advice.Suspects) == 0 {
		return ""
	}
	lead := s.Advice.Suspects[0]
	if s.Advice.NoFault > lead.Probability {
		return "Likeliest now: nothing wrong, " + Percent(s.Advice.NoFault) + "."
	}
	was := 0.0
	for _, x := range before.Advice.Suspects {
		if x.ID == lead.ID {
			was = x.Probability
		}
	}
	return fmt.Sprintf("Likeliest now: %s, %s; before, %s.", lead.Name, Percent(lead.Probability), Percent(was))
}

// Weights is what a reading says of the leading causes, every other reading
// being known: the strongest first.
func (s *Standing) Weights(id string) []WeightLine {
	r := s.Advice.Readings[id]
	if r == nil {
		return nil
	}
	type one struct {
		line WeightLine
		bits float64
	}
	var all []one
	for i, x := range s.Advice.Suspects {
		if i == 6 || x.Probability < 0.01 {
			break
		}
		bits, ok := r.Bits[x.Faults[0].Fault]
		if !ok || math.Abs(bits) < 0.3 {
			continue
		}
		const full = 10 // [bit] that fill a half bar
		all = append(all, one{WeightLine{
			Letter: s.Letter(x.ID), Name: Capital(x.Name), Odds: Factor(bits), For: bits > 0, Bar: length(math.Min(math.Abs(bits)/full, 1)),
		}, bits})
	}
	slices.SortStableFunc(all, func(a, b one) int { return cmp.Compare(math.Abs(b.bits), math.Abs(a.bits)) })
	var out []WeightLine
	for _, x := range all {
		out = append(out, x.line)
	}
	return out
}

// Question is what is asked about a typed value before it is taken.
type Question struct {
	Ask     string
	Instead []Instead
}

// Instead is another reading of what was typed, and what would have gone wrong.
type Instead struct{ Text, Why string }

// Doubts asks about a typed value that nobody expects: a slip of the unit, a
// reading off by a decade, or a bound that far out. Nil when it needs no asking.
func (s *Strip) Doubts(v question.Value) *Question {
	if s == nil {
		return nil
	}
	switch v.How {
	case question.Measured:
		return s.doubts(v.X)
	case question.Over: // an open circuit reads over on every range of ohms
		if q := s.doubts(v.Lo); q != nil && s.above(v.Lo) && s.axis.dim != unit.Ohm {
			return q.bound("over ")
		}
	case question.Under:
		if q := s.doubts(v.Hi); q != nil && !s.above(v.Hi) {
			return q.bound("under ")
		}
	case question.Between: // one that will not hold still may go down to nothing
		if q := s.doubts(v.Hi); q != nil {
			q.Instead = nil
			return q
		}
	}
	return nil
}

// above says whether a number in SI lies above the middle of the axis. Nothing is
// odd about a reading that is over less than is expected, or under more.
func (s *Strip) above(si float64) bool {
	at, _ := s.At(si)
	return at > 0.5
}

// bound is the same question about a bound.
func (q *Question) bound(word string) *Question {
	q.Ask = Capital(word) + q.Ask
	for i := range q.Instead {
		q.Instead[i].Text = word + q.Instead[i].Text
	}
	return q
}

// doubts asks about a number [SI].
func (s *Strip) doubts(si float64) *Question {
	x := unit.ToUCUM(s.axis.dim, si)
	lo, hi := s.axis.value(0), s.axis.value(1)
	low, high := lo-2*(hi-lo), hi+2*(hi-lo)
	if lo > 0 { // half and double are read every day; a slip is a decade or more
		low, high = lo/2-(hi-lo)/2, 2*hi+(hi-lo)/2
	}
	if s.axis.log {
		const tenth = 8 // times beyond the axis
		if size := math.Abs(x); size <= hi*tenth && (size >= lo/tenth || size <= 20*s.axis.res) {
			return nil
		}
	} else if x >= low && x <= high {
		return nil
	}
	q := &Question{Ask: fmt.Sprintf("%s? Nobody expects more than %s here.", shownAmount(s.axis.dim, x), shownAmount(s.axis.dim, round2(hi)))}
	if x < lo {
		q.Ask = fmt.Sprintf("%s? Nobody expects less than %s here.", shownAmount(s.axis.dim, x), shownAmount(s.axis.dim, round2(lo)))
	}
	q.Instead = s.instead(x)
	return q
}

// others are what a typed number may be instead, the commonest slip first.
var others = []struct {
	slip  diagnosis.Slip
	times float64
}{
	{diagnosis.LeadsSwaps, -1},
	{diagnosis.MilliSlip, 1000},
	{diagnosis.MilliSlip, 1e-3},
	{diagnosis.PointSlip, 10},
	{diagnosis.PointSlip, 100},
	{diagnosis.PointSlip, 0.1},
	{diagnosis.PointSlip, 0.01},
}

// mostInstead is how many other readings are offered.
const mostInstead = 3

// instead are the slips that make a number of the strip's unit out of one that somebody
// expects.
func (s *Strip) instead(x float64) []Instead {
	var out []Instead
	for _, o := range others {
		if o.slip == diagnosis.MilliSlip && s.axis.dim != unit.Volt && s.axis.dim != unit.Amp && s.axis.dim != unit.Ohm {
			continue // nobody writes it with milli
		}
		y := digits(x / o.times)
		if t := s.axis.at(y); t >= -0.2 && t <= 1.2 && (!s.axis.positive || y >= 0) && len(out) < mostInstead {
			out = append(out, Instead{shownAmount(s.axis.dim, y), slipWords(o.slip, question.Kind(s.Kind))})
		}
	}
	return out
}

func round2(x float64) float64 {
	if x == 0 {
		return 0
	}
	step := math.Pow(10, math.Floor(math.Log10(math.Abs(x)))-1)
	return math.Round(x/step) * step
}

// Watch is shown while the field is jumped or about to be: the meter that is
// watched, and when to let go. Nil when nothing needs watching.
func (s *Standing) Watch(rigOf map[string]string) []Cautions {
	for _, p := range s.System.Rig.Places {
		if p.Role != "field-jumper" || rigOf[p.ID] == "" || rigOf[p.ID] == p.Positions[0].ID {
			continue
		}
		var ids []string
		for _, m := range p.Moves {
			if m.To == len(p.Positions)-1 {
				ids = append(ids, m.Cautions...)
			}
		}
		return s.cautions(ids)
	}
	return nil
}

// RigNow is how the vehicle stands, by ids.
func (s *Standing) RigNow() map[string]string { return s.rig(s.In.Rig) }
