package question

import (
	"fmt"
	"slices"
	"sort"
	"sync"

	"chargewright/internal/yamlread"
	"chargewright/meter"
	"chargewright/problem"
	"chargewright/system"
	"chargewright/unit"
)

// Check holds a system, the procedures that can be done on it and the practice
// figures against each other: every mention must be of something that another
// file declares, and every procedure and fault must have its minutes and rate.
// A procedure that is not for this system by name may speak of what only another
// shipped system has: then it is not done here.
func Check(s *system.System, c Catalogue, p *system.Practice) problem.List {
	k := &checker{s: s, c: c, p: p}
	k.vocabulary()
	k.mentions(s.Refs())
	for _, id := range c.IDs() {
		if ok, _ := c[id].Meant(s); ok {
			k.procedure(c[id])
		}
	}
	k.mentions(p.Refs())
	k.limits()
	k.complete()
	k.reach()
	k.out.Sort()
	return k.out
}

type checker struct {
	s     *system.System
	c     Catalogue
	p     *system.Practice
	known map[string][]string // ids by kind of mention
	out   problem.List
}

// vocabulary lists what may be mentioned.
func (k *checker) vocabulary() {
	v := map[string][]string{"procedure": k.c.IDs(), "arrangement": system.Library()}
	for _, x := range k.s.Points {
		v["point"] = append(v["point"], x.ID)
	}
	for _, x := range k.s.Elements {
		v["branch"] = append(v["branch"], x.ID)
	}
	for _, x := range k.s.Rig.Places {
		v["place"] = append(v["place"], x.ID)
		for _, q := range x.Positions {
			v["position"] = append(v["position"], x.ID+"/"+q.ID)
		}
	}
	for _, x := range k.s.Faults {
		v["fault"] = append(v["fault"], x.ID)
	}
	for _, x := range k.s.Cautions {
		v["caution"] = append(v["caution"], x.ID)
	}
	for id := range k.p.Repairs {
		v["repair"] = append(v["repair"], id)
	}
	sort.Strings(v["repair"])
	for _, x := range meter.Catalogue() {
		v["meter"] = append(v["meter"], x.ID)
	}
	k.known = v
}

// procedure holds what a procedure mentions against the system, and where it may
// be for others too, against the shipped systems.
func (k *checker) procedure(p *Procedure) {
	named := slices.Contains(p.Needs.Arrangements, k.s.ID) || slices.Contains(p.Needs.Arrangements, k.s.Arrangement)
	done, _ := p.Applies(k.s)
	var own []yamlread.Ref
	for _, r := range p.Refs() {
		switch r.Kind {
		case "fault": // what a look says of a fault that is not here is not asked
			if shippedIDs()[r.Kind+" "+r.ID] {
				continue
			}
		case "point", "branch", "place", "position":
			if !named && shippedIDs()[r.Kind+" "+r.ID] {
				continue
			}
		default:
			if !done {
				continue
			}
		}
		own = append(own, r)
	}
	k.mentions(own)
}

// shippedIDs are the kinds and ids of what procedures speak of in any system of
// the library. One that cannot be read is for its own test to report: then there are none.
var shippedIDs = sync.OnceValue(func() map[string]bool {
	out := map[string]bool{}
	all, err := system.Shipped()
	if err != nil {
		return out
	}
	for _, s := range all {
		k := checker{s: s, p: &system.Practice{}}
		k.vocabulary()
		for _, kind := range []string{"point", "branch", "place", "position", "fault"} {
			for _, id := range k.known[kind] {
				out[kind+" "+id] = true
			}
		}
	}
	return out
})

func (k *checker) mentions(refs []yamlread.Ref) {
	for _, r := range refs {
		list, checked := k.known[r.Kind]
		if !checked && r.Kind != "repair" {
			continue // a kind that no file declares
		}
		found := false
		for _, id := range list {
			found = found || id == r.ID
		}
		if !found {
			k.add(r.Pos, "no "+r.Kind+" is called "+r.ID, yamlread.Suggest(r.ID, list))
		}
	}
}

func (k *checker) add(at yamlread.Pos, what, instead string) {
	k.out.Add(problem.Problem{File: at.File, Line: at.Line, Col: at.Col, What: what, Instead: instead})
}

// dims of what the kinds of observable give.
var dims = map[Kind]unit.Dim{
	Volts: unit.Volt, ACVolts: unit.Volt, Amps: unit.Amp, Ohms: unit.Ohm,
	Density: unit.One, Speed: unit.AngularSpeed,
}

// Dim returns the kind of quantity an observable's value is; false for a look,
// whose value is a class.
func (o Observable) Dim() (unit.Dim, bool) {
	d, ok := dims[o.Kind]
	return d, ok
}

// limits: each must be of a value that its procedure has, in that value's unit.
func (k *checker) limits() {
	for _, l := range k.s.Limits {
		p, ok := k.c[l.Procedure]
		if !ok {
			continue // noted as a mention
		}
		at, seek := k.s.Where("limit", l.ID), p.Seek()
		if l.Value >= len(seek) {
			k.add(at, fmt.Sprintf("limit %s is of value %d, and %s has values 0 to %d", l.ID, l.Value, p.ID, len(seek)-1), "value: 0")
			continue
		}
		if ok, why := p.Applies(k.s); !ok {
			k.add(at, "limit "+l.ID+" is of "+p.ID+", which is not done here: "+why, "no such limit, or a procedure for this system")
			continue
		}
		d, measured := seek[l.Value].Dim()
		switch {
		case !measured:
			k.add(at, "limit "+l.ID+" is of a look, which has no number", "a procedure that measures")
		case d != l.Dim:
			k.add(at, fmt.Sprintf("limit %s is in %s, and value %d of %s is in %s", l.ID, l.Dim, l.Value, p.ID, d), "a limit such as "+d.Example())
		}
	}
}

// complete: nothing may be planned with minutes or rates that are not there.
func (k *checker) complete() {
	for _, id := range k.c.IDs() {
		if done, _ := k.c[id].Applies(k.s); !done {
			continue
		}
		if _, ok := k.p.Procedures[id]; !ok {
			k.add(yamlread.Pos{File: "practice.yaml"}, "procedures: no minutes for "+id, id+": {attended: 2 min, basis: memory}")
		}
	}
	for _, x := range k.s.Faults {
		_, rated := k.p.Rates[x.ID]
		switch {
		case !rated && !x.Outside:
			k.add(k.s.Where("fault", x.ID), "the practice file has no rate for fault "+x.ID, "rates: faults: "+x.ID+": {rate: 1, basis: memory}")
		case rated && x.Outside:
			k.add(k.s.Where("fault", x.ID), "fault "+x.ID+" is outside the list and has a rate", "no rate, or no outside: true")
		}
	}
	if k.p.Per > 0 {
		sum := k.p.NoFault.Rate + k.p.NoneOfThem.Rate
		for _, r := range k.p.Rates {
			sum += r.Rate
		}
		if sum <= 0 {
			k.add(yamlread.Pos{File: "practice.yaml"}, "rates: they are all 0", "the jobs out of 100 that have each fault")
		}
	}
}

// reach: every procedure must be possible from the vehicle as it rolls in,
// without breaking a rule on the way.
func (k *checker) reach() {
	if len(k.out) > 0 {
		return // unknown places make no target
	}
	for _, id := range k.c.IDs() {
		if ok, _ := k.c[id].Applies(k.s); !ok {
			continue
		}
		t, err := k.c[id].Target(k.s)
		if err == nil {
			_, err = k.s.Rig.Path(k.s.Rig.Rest, t)
		}
		if err != nil {
			k.add(yamlread.Pos{File: "procedures/" + id + ".yaml"}, err.Error(), "a rig that can be reached")
		}
	}
}
