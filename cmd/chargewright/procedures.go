package main

import (
	"strings"

	"chargewright/question"
	"chargewright/system"
	"chargewright/unit"
)

type proceduresCmd struct {
	Procedures []string `arg:"" optional:"" help:"Show only these. Without any, all that can be done on the system." placeholder:"PROCEDURE"`
	System     string   `required:"" help:"An id of the library, or a system file." placeholder:"ID"`
	JSON       bool     `name:"json" help:"Print JSON instead of text."`
}

// Run prints the procedures of a system in full.
func (c *proceduresCmd) Run(e *env) error {
	sh, err := openShelf(e, c.System)
	if err != nil {
		return err
	}
	list := sh.procedures()
	if len(c.Procedures) > 0 {
		if list, err = sh.named(c.Procedures); err != nil {
			return err
		}
	}
	if c.JSON {
		out := proceduresOut{Format: outputFormat, System: sh.sys.ID, Procedures: []procedureOut{}}
		for _, p := range list {
			out.Procedures = append(out.Procedures, sh.procedureOf(p))
		}
		return printJSON(e.stdout, out)
	}
	t := &text{colour: e.colour}
	t.line(0, "%s on %s (%s). Minutes are those of the reading itself: hooking up and clearing away come on top.",
		plural(len(list), "procedure", "procedures"), sh.sys.Name, sh.sys.ID)
	for _, p := range list {
		t.procedure(sh, p)
	}
	return t.to(e.stdout)
}

// named finds procedures by id and reports every name that is none.
func (s *shelf) named(ids []string) ([]*question.Procedure, error) {
	var out []*question.Procedure
	var missing []error
	for _, id := range ids {
		p := s.catalogue[id]
		if p == nil {
			missing = append(missing, unknown("procedure", id, s.catalogue.IDs()))
			continue
		}
		if ok, why := p.Applies(s.sys); !ok {
			missing = append(missing, problemf("another procedure", "procedure %s cannot be done on %s: %s", id, s.sys.ID, why))
			continue
		}
		out = append(out, p)
	}
	return out, together(missing)
}

// proceduresOut is what --json prints; schema output-procedures.
type proceduresOut struct {
	Format     int            `json:"format"`
	System     string         `json:"system"`
	Procedures []procedureOut `json:"procedures"`
}

type procedureOut struct {
	ID       string              `json:"id"`
	Name     string              `json:"name"`
	Where    string              `json:"where"`
	Rig      map[string][]string `json:"rig"`
	Hold     []holdOut           `json:"hold,omitempty"`
	Measure  []measureOut        `json:"measure,omitempty"`
	Look     *lookOut            `json:"look,omitempty"`
	Attended *quantity           `json:"attended"` // null where the practice file gives none
	Elapsed  *quantity           `json:"elapsed"`
	Do       []string            `json:"do"`
	Cautions []cautionOut        `json:"cautions"`
	Settles  string              `json:"settles"`
	origin
}

type holdOut struct {
	What string `json:"what"`
	quantity
}

type measureOut struct {
	Box      string `json:"box"`
	Quantity string `json:"quantity"`
	Red      string `json:"red,omitempty"`
	Black    string `json:"black,omitempty"`
	Through  string `json:"through,omitempty"`
	Cell     int    `json:"cell,omitempty"`
	Meter    string `json:"meter"`
	Unit     string `json:"unit"`
	Optional bool   `json:"optional,omitempty"`
}

type lookOut struct {
	Question string   `json:"question"`
	Classes  []string `json:"classes"`
}

func (s *shelf) procedureOf(p *question.Procedure) procedureOut {
	o := procedureOut{
		ID: p.ID, Name: p.Name, Where: p.Where, Rig: map[string][]string{}, Hold: holds(p),
		Do: p.Do, Cautions: []cautionOut{}, Settles: p.Settles, origin: origin{p.Source, p.Basis},
	}
	for _, d := range p.Rig {
		o.Rig[d.Place] = d.Positions
	}
	for _, x := range p.Measure {
		o.Measure = append(o.Measure, measure(x))
	}
	if p.Look != nil {
		o.Look = &lookOut{p.Look.Question, p.Look.Classes}
	}
	if w, ok := s.practice.Procedures[p.ID]; ok {
		a, el := quantity{w.Attended, "min"}, quantity{w.Elapsed, "min"}
		o.Attended, o.Elapsed = &a, &el
	}
	for _, id := range p.Cautions {
		c := s.caution(id)
		o.Cautions = append(o.Cautions, cautionOut{c.ID, c.Text, origin{c.Source, c.Basis}})
	}
	return o
}

func holds(p *question.Procedure) []holdOut {
	var out []holdOut
	for _, h := range p.Hold {
		dim, _ := question.HoldDim(h.What) // the loader takes no other word
		out = append(out, holdOut{h.What, amount(dim, h.Target)})
	}
	return out
}

func measure(x question.Observable) measureOut {
	dim, _ := x.Dim()
	return measureOut{x.Note, string(x.Kind), x.Red, x.Black, x.Through, x.Cell, x.Meter, unit.UCUM(dim), x.Optional}
}

// caution finds a caution of the system; one that it does not have keeps its id.
func (s *shelf) caution(id string) system.Caution {
	for _, c := range s.sys.Cautions {
		if c.ID == id {
			return c
		}
	}
	return system.Caution{ID: id, Text: "not in the system's list of cautions"}
}

// procedure prints one procedure.
func (t *text) procedure(s *shelf, p *question.Procedure) {
	t.head("%s: %s", p.ID, p.Name)
	t.entry("where", "on the "+p.Where)
	t.entry("hook-up", rigWords(s.sys, p))
	for _, h := range p.Hold {
		dim, _ := question.HoldDim(h.What)
		t.entry("held by hand", strings.ReplaceAll(h.What, "-", " ")+" at "+unit.Format(dim, h.Target))
	}
	for i, x := range p.Measure {
		key := ""
		if i == 0 {
			key = "measured"
		}
		t.entry(key, x.Note+": "+leads(x)+", "+x.Meter)
	}
	if p.Look != nil {
		t.entry("looked at", p.Look.Question, strings.Join(p.Look.Classes, " / "))
	}
	if w, ok := s.practice.Procedures[p.ID]; ok {
		line := minutes(w.Attended)
		if w.Elapsed > w.Attended {
			line += ", " + minutes(w.Elapsed) + " by the clock"
		}
		t.entry("takes", line+" ("+origin{w.Source, w.Basis}.words()+")")
	}
	t.entry("settles", p.Settles)
	for i, line := range p.Do {
		key := ""
		if i == 0 {
			key = "steps"
		}
		t.entry(key, "- "+line)
	}
	for _, id := range p.Cautions {
		t.entry("! "+id, s.caution(id).Text)
	}
	t.entry("source", origin{p.Source, p.Basis}.words())
}

// rigWords says how the vehicle must stand, in the names of its positions.
func rigWords(sys *system.System, p *question.Procedure) string {
	if len(p.Rig) == 0 {
		return "as the vehicle stands"
	}
	var words []string
	for _, d := range p.Rig {
		place, positions := d.Place, append([]string(nil), d.Positions...)
		for _, x := range sys.Rig.Places {
			if x.ID != d.Place {
				continue
			}
			place = x.Name
			for i := range positions {
				for _, q := range x.Positions {
					if q.ID == positions[i] {
						positions[i] = q.Name
					}
				}
			}
		}
		words = append(words, place+": "+strings.Join(positions, " or "))
	}
	return strings.Join(words, "; ")
}

// leads says where a meter goes.
func leads(x question.Observable) string {
	switch {
	case x.Through != "":
		return "amps through " + x.Through
	case x.Red != "":
		return strings.ReplaceAll(string(x.Kind), "-", " ") + ", red " + x.Red + ", black " + x.Black
	case x.Kind == question.Density && x.Cell > 0:
		return "density of cell " + string(rune('0'+x.Cell))
	}
	return string(x.Kind)
}
