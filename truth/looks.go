package truth

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"

	"chargewright/question"
	"chargewright/system"
)

// Looks answers questions to the eye, ear and hand by the catalogue's tables of
// what is seen under each fault. A vehicle looks the same each time it is looked
// at: the class hangs on the seed and the procedure only.
type Looks struct {
	Procedures question.Catalogue
	Seed       uint64
}

// see draws the class of a look.
func (l Looks) see(procedure string, faults []string) (question.Value, error) {
	p := l.Procedures[procedure]
	if p == nil || p.Look == nil {
		return question.Value{}, fmt.Errorf("truth: procedure %q has no table of what is seen: give Looks the catalogue that has it", procedure)
	}
	share := p.Look.Otherwise
	for _, f := range faults {
		// Of two faults the one with a table of its own is seen; with two
		// tables the first, the cause, is.
		if given, ok := p.Look.Given[f]; ok {
			share = given
			break
		}
	}
	x := stream(l.Seed, "look "+procedure, 0).Float64()
	for i, c := range p.Look.Classes {
		if x -= share[i]; x < 0 {
			return question.Value{How: question.Class, Class: c}, nil
		}
	}
	return question.Value{How: question.Class, Class: p.Look.Classes[len(p.Look.Classes)-1]}, nil
}

// stream is the chance that belongs to one purpose: what is drawn for it does
// not depend on what else was asked before.
func stream(seed uint64, purpose string, n int) *rand.Rand {
	h := fnv.New64a()
	_, _ = h.Write([]byte(purpose)) // never fails: hash.Hash says so
	return rand.New(rand.NewPCG(seed, h.Sum64()+uint64(n)))
}

// others answers what no circuit run is needed for.
func others(sys *system.System, v *Vehicle, l Looks, q question.Question, o question.Observable) (question.Value, bool, error) {
	switch o.Kind {
	case question.Look:
		val, err := l.see(q.Procedure, v.FaultIDs(sys))
		return val, true, err
	case question.Speed:
		return question.Value{How: question.Measured, X: speed(sys, q.Setup)}, true, nil
	}
	return question.Value{}, false, nil
}
