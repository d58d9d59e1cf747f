package main

import (
	"fmt"
	"strings"

	"chargewright/system"
	"chargewright/unit"
)

type faultsCmd struct {
	Faults []string `arg:"" optional:"" help:"Show only these. Without any, all that the system knows." placeholder:"FAULT"`
	System string   `required:"" help:"An id of the library, or a system file." placeholder:"ID"`
	JSON   bool     `name:"json" help:"Print JSON instead of text."`
}

// Run prints the faults of a system in full.
func (c *faultsCmd) Run(e *env) error {
	sh, err := openShelf(e, c.System)
	if err != nil {
		return err
	}
	list := known(sh.sys)
	if len(c.Faults) > 0 {
		list = nil
		var missing []error
		for _, id := range c.Faults {
			f, err := faultOf(sh.sys, id)
			if err != nil {
				missing = append(missing, err)
				continue
			}
			list = append(list, f)
		}
		if err := together(missing); err != nil {
			return err
		}
	}
	if c.JSON {
		out := faultsOut{Format: outputFormat, System: sh.sys.ID, Per: sh.practice.Per, Faults: []faultOut{}}
		for _, f := range list {
			out.Faults = append(out.Faults, sh.faultOf(f))
		}
		return printJSON(e.stdout, out)
	}
	t := &text{colour: e.colour}
	t.line(0, "%s of %s (%s). Rates are jobs out of %g; %g more have no fault, %g one that is on no list.",
		plural(len(list), "fault", "faults"), sh.sys.Name, sh.sys.ID, sh.practice.Per, sh.practice.NoFault.Rate, sh.practice.NoneOfThem.Rate)
	part := ""
	for _, f := range list {
		if f.Part != part {
			part = f.Part
			t.head("%s", part)
		}
		t.fault(sh, f)
	}
	return t.to(e.stdout)
}

// faultOf finds a fault by its id.
func faultOf(sys *system.System, id string) (*system.Fault, error) {
	var ids []string
	for i := range sys.Faults {
		if sys.Faults[i].ID == id {
			return &sys.Faults[i], nil
		}
		ids = append(ids, sys.Faults[i].ID)
	}
	return nil, unknown("fault", id, ids)
}

// faultsOut is what --json prints; schema output-faults.
type faultsOut struct {
	Format int        `json:"format"`
	System string     `json:"system"`
	Per    float64    `json:"per"` // rates are jobs out of this many
	Faults []faultOut `json:"faults"`
}

type faultOut struct {
	ID        string        `json:"id"`
	Name      string        `json:"name"`
	Part      string        `json:"part"`
	Repair    repairOut     `json:"repair"`
	Rate      *rateOut      `json:"rate"` // null where the practice file gives none
	Shows     float64       `json:"shows"`
	BringsOn  []string      `json:"brings_on,omitempty"`
	Pattern   string        `json:"pattern,omitempty"`
	Changes   []changeOut   `json:"changes"`
	Magnitude *magnitudeOut `json:"magnitude,omitempty"`
	Follows   []followOut   `json:"follows,omitempty"`
	Outside   bool          `json:"outside,omitempty"`
	Note      string        `json:"note,omitempty"`
}

type repairOut struct {
	ID   string `json:"id"`
	Name string `json:"name,omitempty"`
}

type rateOut struct {
	Rate float64 `json:"rate"`
	origin
}

type changeOut struct {
	Target string   `json:"target"`
	How    string   `json:"how"`
	Value  *float64 `json:"value,omitempty"` // in the unit of the target
	Unit   string   `json:"unit,omitempty"`
}

type magnitudeOut struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
	Unit string  `json:"unit"`
}

type followOut struct {
	Fault string  `json:"fault"`
	Share float64 `json:"share"`
}

func (s *shelf) faultOf(f *system.Fault) faultOut {
	o := faultOut{
		ID: f.ID, Name: f.Name, Part: f.Part, Repair: repairOut{f.Repair, s.practice.Repairs[f.Repair].Name},
		Shows: f.Shows, BringsOn: f.BringsOn, Pattern: f.Pattern, Changes: []changeOut{}, Outside: f.Outside, Note: f.Note,
	}
	if r, ok := s.practice.Rates[f.ID]; ok {
		o.Rate = &rateOut{r.Rate, origin{r.Source, r.Basis}}
	}
	for _, c := range f.Changes {
		x := changeOut{Target: c.Target, How: c.How}
		if dim, ok := changeDim(c); ok {
			v := unit.ToUCUM(dim, c.Value)
			x.Value, x.Unit = &v, unit.UCUM(dim)
		}
		o.Changes = append(o.Changes, x)
	}
	if m := f.Magnitude; m != nil {
		o.Magnitude = &magnitudeOut{unit.ToUCUM(m.Dim, m.Low), unit.ToUCUM(m.Dim, m.High), unit.UCUM(m.Dim)}
	}
	for _, x := range f.Follows {
		o.Follows = append(o.Follows, followOut{x.Fault, x.Share})
	}
	return o
}

// changeDim is the kind of quantity of a change's value; false when it has none.
func changeDim(c system.Change) (unit.Dim, bool) {
	switch c.How {
	case "times":
		return unit.One, true
	case "set", "plus":
		if k, ok := system.LookupParam(c.Target); ok {
			return k.Dim, true
		}
		return unit.Ohm, true
	}
	return unit.One, false
}

// fault prints one fault.
func (t *text) fault(s *shelf, f *system.Fault) {
	rate := "no rate"
	if r, ok := s.practice.Rates[f.ID]; ok {
		rate = fmt.Sprintf("%g of %g jobs (%s)", r.Rate, s.practice.Per, origin{r.Source, r.Basis}.words())
	}
	repair := f.Repair
	if r, ok := s.practice.Repairs[f.Repair]; ok {
		repair += ": " + r.Name
	}
	shows := fmt.Sprintf("shows %g %% of the time", 100*f.Shows)
	if len(f.BringsOn) > 0 {
		shows += ", brought on by: " + strings.Join(f.BringsOn, ", ")
	}
	var follows []string
	for _, x := range f.Follows {
		follows = append(follows, fmt.Sprintf("%s (%g %%)", x.Fault, 100*x.Share))
	}
	after := ""
	if len(follows) > 0 {
		after = "brings with it: " + strings.Join(follows, ", ")
	}
	t.entry(f.ID, f.Name, rate, "repair "+repair, changeWords(f), shows, after, f.Note)
}

// changeWords says what the fault does to the model.
func changeWords(f *system.Fault) string {
	var words []string
	if f.Pattern != "" {
		words = append(words, "rectifier pattern "+f.Pattern)
	}
	for _, c := range f.Changes {
		w := c.Target + " "
		switch dim, _ := changeDim(c); c.How {
		case "set":
			w += unit.Format(dim, c.Value)
		case "times":
			w += fmt.Sprintf("times %.4g", c.Value)
		case "plus":
			w += "plus " + unit.Format(dim, c.Value)
		case "open":
			w += "open"
		default:
			how := strings.TrimSuffix(strings.TrimSuffix(c.How, "magnitude"), "-")
			w += strings.TrimLeft(how+" ", " ") + unit.Format(f.Magnitude.Dim, f.Magnitude.Low) + " to " + unit.Format(f.Magnitude.Dim, f.Magnitude.High)
		}
		words = append(words, w)
	}
	return strings.Join(words, "; ")
}
