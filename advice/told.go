package advice

import (
	"math"
	"slices"

	"chargewright/system"
)

// chance is how often a word is said of a vehicle with a fault (nil = sound) that
// does i of doings.
func (t *tellings) chance(group int, x *telling, f *system.Fault, i int) float64 {
	if f != nil {
		if group == inWhen && slices.Contains(f.BringsOn, x.word) {
			return t.brings
		}
		if group == inWhen && x.word == always && len(f.BringsOn) == 0 {
			return t.steady
		}
		for _, key := range [...]string{f.ID, f.Part} {
			if p, ok := x.given[key]; ok {
				return p
			}
		}
	}
	if x.does != nil {
		return x.does[i]
	}
	return x.usual
}

// always is the word of when that a fault has which nothing brings on.
const always = "always"

// story is how often all of this is told by the driver of a vehicle that does i of
// doings. A word that is not ticked in a group that was asked speaks too. Only one
// word is looked at where only is not empty.
func (t *tellings) story(told Told, only string, f *system.Fault, i int) float64 {
	p := 1.0
	for g, words := range told.groups() {
		if len(words) == 0 {
			continue
		}
		for k := range t.groups[g] {
			x := &t.groups[g][k]
			if only != "" && x.word != only {
				continue
			}
			if c := t.chance(g, x, f, i); slices.Contains(words, x.word) {
				p *= c
			} else {
				p *= 1 - c
			}
		}
	}
	return p
}

// toldOf is P(story | kind of complaint, fault), past the last fault of the sound
// vehicle. What the vehicle does is known to the driver: what is told of that and
// the kind of complaint come from one thing, and count once.
func (p *Prepared) toldOf(told Told, only, complaint string, fault int) float64 {
	var f *system.Fault
	if fault < len(p.System.Faults) {
		f = &p.System.Faults[fault]
	}
	both, kind := 0.0, 0.0
	for i, does := range p.does[fault] {
		heard := 1.0
		if complaint != "" {
			heard = p.heard.heard[i][complaint]
		}
		both += does * heard * p.told.story(told, only, f, i)
		kind += does * heard
	}
	return both / math.Max(kind, 1e-12)
}

// factors are how many times as often the story is told under each fault, and last of
// a sound vehicle, as among all who complain of the same.
func (p *Prepared) factors(told Told, only, complaint string) []float64 {
	out := make([]float64, len(p.does))
	sum, total := 0.0, 0.0
	for i := range out {
		out[i] = p.toldOf(told, only, complaint, i)
		rate := p.Practice.NoFault.Rate
		if i < len(p.System.Faults) {
			f := &p.System.Faults[i]
			if rate = p.Practice.Rates[f.ID].Rate; f.Outside {
				rate = 0
			}
		}
		if complaint != "" {
			rate *= p.heard.chance(complaint, p.does[i])
		}
		sum += rate * out[i]
		total += rate
	}
	usual := math.Max(sum/math.Max(total, 1e-12), 1e-12)
	for i := range out {
		out[i] /= usual
	}
	return out
}

// Hearing is the desk for a job of which this was told.
func (d *Desk) Hearing(told Told) (*Desk, error) {
	if told.empty() {
		return d, nil
	}
	if err := d.told.known(told); err != nil {
		return nil, err
	}
	own := *d
	for g, words := range told.groups() {
		for _, w := range words {
			own.words = append(own.words, heardWord{toldGroups[g], w, d.factors(Told{}.with(g, w), w, d.Complaint)})
		}
	}
	own.Prior.Told = d.factors(told, "", d.Complaint)
	for i, x := range own.Prior.Told {
		own.Prior.Told[i] = math.Log(min(max(x, 1/d.told.most), d.told.most))
	}
	return &own, nil
}

// heardWord is a word that was told, with its factors.
type heardWord struct {
	group, word string
	factors     []float64
}

// describeTold says what each word speaks for.
func (d *Desk) describeTold(a *Advice) {
	a.Told = []Heard{}
	for _, w := range d.words {
		h := Heard{Group: w.group, Word: w.word, Bits: map[string]float64{noFault: math.Log2(w.factors[len(d.System.Faults)])}}
		for _, s := range a.Suspects {
			for _, f := range s.Faults {
				if i, ok := d.Model.FaultIndex(f.Fault); ok {
					h.Bits[f.Fault] = math.Log2(w.factors[i])
				}
			}
		}
		a.Told = append(a.Told, h)
	}
}

// with is the same with one word more.
func (t Told) with(group int, word string) Told {
	list := [...]*[]string{&t.When, &t.Before, &t.Noticed, &t.Use}[group]
	*list = append(slices.Clone(*list), word)
	return t
}
