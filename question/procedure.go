package question

import (
	"slices"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/problem"
	"chargewright/rig"
	"chargewright/system"
	"chargewright/unit"
)

// Procedure is a named question of the catalogue, with what a person needs to
// carry it out. It names points, branches, places and faults by their ids and
// belongs to no one system: Applies tells whether a system has them.
type Procedure struct {
	Format   int
	ID, Name string
	SHA256   [32]byte

	Where   string        // vehicle | bench
	Does    string        // measure | look
	Rig     []Demand      // places that must stand in certain positions
	Hold    []Hold        // what is adjusted by hand
	Measure []Observable  // for does: measure
	Look    *LookQuestion // for does: look

	Do       []string // the steps, in order
	Cautions []string // ids of the system's cautions
	Settles  string   // why a technician would do it
	Needs    Needs
	Source   string
	Basis    system.Basis

	refs []yamlread.Ref
}

// Demand names a place and the positions it may stand in.
type Demand struct {
	Place     string
	Positions []string
}

// LookQuestion is a question to the eye, hand, ear or nose: one class out of a
// list. Given holds the probability of each class under a fault, Otherwise
// under everything not in Given; each row sums to 1.
type LookQuestion struct {
	Question  string
	Classes   []string
	Given     map[string][]float64 // by fault id
	Otherwise []float64
}

// Needs says which vehicles a procedure can be done on; empty = any.
type Needs struct {
	Arrangements []string // system ids or regulator kinds, any of them
	Serviceable  bool     // the battery's caps must come off
	Volts        float64  // nominal [V]; 0 = any
	Batteries    int      // how many; 0 = any
	Splitter     *bool    // with a diode splitter, or without; nil = either
}

// Refs returns every mention of a point, branch, place, position, fault,
// caution or meter in the file, with where it stands.
func (p *Procedure) Refs() []yamlread.Ref { return p.refs }

// Seek returns what the procedure asks for, in the order of a reading's values.
func (p *Procedure) Seek() []Observable {
	if p.Look != nil {
		return []Observable{{Kind: Look, Classes: p.Look.Classes, Note: p.Look.Question}}
	}
	return p.Measure
}

// Applies tells whether the procedure can be done on the system, and why not: it
// must be meant for it, and the system must have every point, branch, place and
// position that it names. So the same id must mean the same thing in every
// system file; what is not there is not asked for.
func (p *Procedure) Applies(s *system.System) (bool, string) {
	if ok, why := p.Meant(s); !ok {
		return false, why
	}
	for _, r := range p.refs {
		if why := refused(s, r.Kind, r.ID); why != "" {
			return false, why
		}
		if !has(s, r.Kind, r.ID) {
			return false, s.ID + " has no " + r.Kind + " " + r.ID
		}
	}
	return true, ""
}

// Meant tells whether the procedure's own needs speak for the system.
func (p *Procedure) Meant(s *system.System) (bool, string) {
	if p.Needs.Serviceable && !s.Battery.Serviceable {
		return false, "the battery is sealed"
	}
	if n := p.Needs.Batteries; n != 0 && n != len(s.Accumulators()) {
		return false, "it is for another number of batteries"
	}
	if n := p.Needs.Splitter; n != nil && *n != (s.Splitter.In != "") {
		return false, "it is for vehicles with a diode splitter, or for those without"
	}
	if v := p.Needs.Volts; v != 0 && v != s.Volts {
		return false, "it is for " + unit.Format(unit.Volt, v)
	}
	if len(p.Needs.Arrangements) == 0 {
		return true, ""
	}
	for _, a := range p.Needs.Arrangements {
		if a == s.ID || a == s.Arrangement || a == s.Regulator.Kind {
			return true, ""
		}
	}
	return false, "it is for " + strings.Join(p.Needs.Arrangements, ", ")
}

// refused is why nothing is to be read at a point; empty where it can be.
func refused(s *system.System, kind, id string) string {
	if kind == "point" {
		for _, p := range s.Points {
			if p.ID == id {
				return p.Refuse
			}
		}
	}
	return ""
}

// has tells whether a system has what a procedure stands on; other kinds of
// mention do not decide where it can be done.
func has(s *system.System, kind, id string) bool {
	switch kind {
	case "point":
		return slices.ContainsFunc(s.Points, func(x system.Point) bool { return x.ID == id })
	case "branch":
		return slices.ContainsFunc(s.Elements, func(x system.Element) bool { return x.ID == id })
	case "place":
		return slices.ContainsFunc(s.Rig.Places, func(x rig.Place) bool { return x.ID == id })
	case "position":
		place, position, _ := strings.Cut(id, "/")
		return slices.ContainsFunc(s.Rig.Places, func(x rig.Place) bool {
			return x.ID == place && slices.ContainsFunc(x.Positions, func(q rig.Position) bool { return q.ID == position })
		})
	}
	return true
}

// EngineSpeed returns the speed that a state holds the engine at [rad/s].
func EngineSpeed(r *rig.Rig, s rig.State) float64 {
	speed := 0.0
	for i, p := range r.Places {
		if at := s.At(i); at < len(p.Positions) {
			speed = max(speed, p.Positions[at].Engine)
		}
	}
	return speed
}

// Target returns where the procedure wants the system's places to stand.
// Places it does not name may stand in any inert position.
func (p *Procedure) Target(s *system.System) (rig.Target, error) {
	var t rig.Target
	var list problem.List
	for _, d := range p.Rig {
		i := slices.IndexFunc(s.Rig.Places, func(x rig.Place) bool { return x.ID == d.Place })
		if i < 0 {
			list.Add(problem.Problem{What: "procedure " + p.ID + ": system " + s.ID + " has no place " + d.Place})
			continue
		}
		for _, id := range d.Positions {
			k := slices.IndexFunc(s.Rig.Places[i].Positions, func(x rig.Position) bool { return x.ID == id })
			if k < 0 {
				list.Add(problem.Problem{What: "procedure " + p.ID + ": place " + d.Place + " has no position " + id})
				continue
			}
			t.Positions[i] |= 1 << k
		}
	}
	return t, list.Err()
}
