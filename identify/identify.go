// Package identify finds out which charging arrangement is fitted from what can
// be seen of it: looks at the alternator and looks at the wiring, each answer
// weighed by how often such a kind shows it. It says what else it could be, which
// look settles that soonest, when alternator and wiring do not belong together,
// and when the machine is of a kind that this program does not do.
//
// It measures nothing and knows no circuit: what a mismatched pair would do is
// computed by package prediction and told in docs/models/pairs.md.
//
// Open kinds.yaml for the kinds, read.go for its format, weigh.go for the sum.
package identify

import "slices"

// Catalogue is what can be looked at and the kinds that there are.
type Catalogue struct {
	Looks       []Look
	Alternators []Kind
	Wirings     []Kind
	Pairs       []Pair
	Strangers   []Stranger
	Cautions    []Caution
	Matched     Kind    // what looks at both together show where they belong together
	Strange     Kind    // and where they do not
	Mismatched  float64 // share of vehicles whose alternator does not belong to the wiring
	NoneOfThese float64 // share of vehicles that are none of these kinds
	Basis       string
}

// Look is one question that eyes, or a meter, answer.
type Look struct {
	ID, Ask  string
	Of       string // alternator, wiring or pair: on what the answer depends
	Do       []string
	Cautions []string // ids
	Minutes  float64
	Answers  []Answer
	After    string   // the look that must be answered first, "" = none
	Is       []string // the answers to it that make this one worth asking
}

// Answer is one thing that can be seen.
type Answer struct{ ID, Say string }

// Kind is a kind of alternator or of wiring. Shows[look][answer] is how often a
// vehicle of the kind shows the answer; a look that is missing says nothing.
type Kind struct {
	ID, Name string
	Shows    map[string]map[string]float64
}

// Pair is an alternator on the wiring that it belongs to. System is its id in the
// library; Without says what holds instead where the library has none.
type Pair struct {
	Alternator, Wiring string
	Share              float64 // of 100 vehicles
	System, Without    string
}

// Stranger is an alternator on a wiring that it does not belong to, with what it
// would do there.
type Stranger struct{ Alternator, Wiring, Would string }

// Would is what a mismatched pair would do, "" where that was not computed.
func (c *Catalogue) Would(alternator, wiring string) string {
	for _, s := range c.Strangers {
		if s.Alternator == alternator && s.Wiring == wiring {
			return s.Would
		}
	}
	return ""
}

// Caution is shown with the looks that name it.
type Caution struct{ ID, Text, Source, Basis string }

// CautionsOf returns the texts of a look's cautions.
func (c *Catalogue) CautionsOf(l Look) []string {
	var out []string
	for _, id := range l.Cautions {
		for _, k := range c.Cautions {
			if k.ID == id {
				out = append(out, k.Text)
			}
		}
	}
	return out
}

// find returns the look of an id.
func (c *Catalogue) find(id string) (Look, bool) {
	for _, l := range c.Looks {
		if l.ID == id {
			return l, true
		}
	}
	return Look{}, false
}

// Asked reports whether a look is asked of a vehicle of which that was seen.
func (c *Catalogue) Asked(l Look, answers map[string]string) bool {
	return l.After == "" || slices.Contains(l.Is, answers[l.After])
}

// Prune takes out the answers to looks that the others have made pointless: a form
// has them from before.
func (c *Catalogue) Prune(answers map[string]string) {
	for _, l := range c.Looks {
		if !c.Asked(l, answers) {
			delete(answers, l.ID)
		}
	}
}

// has reports whether a look has an answer.
func (l Look) has(id string) bool {
	for _, a := range l.Answers {
		if a.ID == id {
			return true
		}
	}
	return false
}
