package main

import (
	"fmt"
	"strings"

	"chargewright/question"
	"chargewright/unit"
)

type simulateCmd struct {
	vehicleFlags
	Procedure []string `sep:"none" help:"What is done. May be repeated." placeholder:"PROCEDURE"`
	All       bool     `help:"Everything that can be done on the system."`
	JSON      bool     `name:"json" help:"Print JSON instead of text."`
}

// Run prints what tests read on a vehicle with given faults.
func (c *simulateCmd) Run(e *env) error {
	if c.All == (len(c.Procedure) > 0) {
		return usage("give --procedure PROCEDURE, once or more, or --all")
	}
	s, err := c.situation(e)
	if err != nil {
		return err
	}
	list := s.procedures()
	if !c.All {
		if list, err = s.named(c.Procedure); err != nil {
			return err
		}
	}
	var out []simulated
	w := s.model.NewWorker()
	w.CountRoots()
	for _, p := range list {
		out = append(out, s.simulate(w, p))
	}
	if c.JSON {
		err = printJSON(e.stdout, s.simulateOut(out))
	} else {
		t := &text{colour: e.colour}
		s.print(t, out)
		err = t.to(e.stdout)
	}
	if err != nil {
		return err
	}
	return unanswered(out, c.All)
}

// unanswered says what has no answer. That some procedure of all cannot be done
// on the system is no problem.
func unanswered(out []simulated, all bool) error {
	var refused []error
	var unsolved []string
	for _, x := range out {
		switch {
		case x.refused != "" && !all:
			refused = append(refused, problemf("another procedure", "%s: %s", x.p.ID, x.refused))
		case x.unsolved:
			unsolved = append(unsolved, x.p.ID)
		}
	}
	if err := together(refused); err != nil {
		return err
	}
	if len(unsolved) > 0 {
		return noAnswer(fmt.Errorf("no operating point found for %s: with these figures the circuit has none, or it cannot be told which", strings.Join(unsolved, ", ")))
	}
	return nil
}

// simulateOut is what --json prints; schema output-simulate.
type simulateOut struct {
	Format     int             `json:"format"`
	System     string          `json:"system"`
	Faults     []givenFaultOut `json:"faults"`
	Set        []setOut        `json:"set"`
	Ambient    quantity        `json:"ambient"`
	Coverage   float64         `json:"coverage"` // of low to high
	Procedures []simulatedOut  `json:"procedures"`
}

type givenFaultOut struct {
	ID        string    `json:"id"`
	Magnitude *quantity `json:"magnitude"` // null: none, or all of its range
}

type setOut struct {
	ID string `json:"id"`
	quantity
}

type simulatedOut struct {
	Procedure string            `json:"procedure"`
	Name      string            `json:"name"`
	Refused   string            `json:"refused,omitempty"`
	Unsolved  bool              `json:"unsolved,omitempty"`
	Rig       map[string]string `json:"rig,omitempty"`
	Engine    *quantity         `json:"engine,omitempty"`
	Hold      []holdOut         `json:"hold,omitempty"`
	Regulator *quantity         `json:"regulator,omitempty"` // its temperature
	Regime    string            `json:"regime,omitempty"`
	Second    string            `json:"second_regime,omitempty"`
	Points    int               `json:"operating_points,omitempty"`
	Readings  []readingOut      `json:"readings,omitempty"`
	Look      *seenOut          `json:"look,omitempty"`
}

type readingOut struct {
	measureOut
	Median     float64      `json:"median"`
	Low        float64      `json:"low"`
	High       float64      `json:"high"`
	Straight   bool         `json:"straight"`
	U          *float64     `json:"u"` // the meter's, k=1; null beyond its range
	Resolution *float64     `json:"resolution"`
	Limits     []limitAtOut `json:"limits"`
}

type limitAtOut struct {
	limitOut
	Within float64 `json:"within"` // share of vehicles
}

type seenOut struct {
	Question string     `json:"question"`
	Classes  []classOut `json:"classes"`
}

type classOut struct {
	Class       string  `json:"class"`
	Probability float64 `json:"probability"`
}

func (s *situation) simulateOut(list []simulated) simulateOut {
	o := simulateOut{
		Format: outputFormat, System: s.sys.ID, Faults: []givenFaultOut{}, Set: []setOut{},
		Ambient: amount(unit.Kelvin, s.day.Ambient.K), Coverage: coverage,
	}
	for k, f := range s.hyp.Faults {
		x := givenFaultOut{ID: s.sys.Faults[f].ID}
		if v := s.given[k]; v != nil {
			q := amount(s.sys.Faults[f].Magnitude.Dim, *v)
			x.Magnitude = &q
		}
		o.Faults = append(o.Faults, x)
	}
	for _, x := range s.set {
		o.Set = append(o.Set, setOut{x.id, amount(x.dim, x.value)})
	}
	for i := range list {
		o.Procedures = append(o.Procedures, s.simulatedOut(&list[i]))
	}
	return o
}

func (s *situation) simulatedOut(x *simulated) simulatedOut {
	o := simulatedOut{Procedure: x.p.ID, Name: x.p.Name, Refused: x.refused, Unsolved: x.unsolved}
	if x.p.Look != nil {
		o.Look = &seenOut{Question: x.p.Look.Question}
		for i, c := range x.p.Look.Classes {
			o.Look.Classes = append(o.Look.Classes, classOut{c, x.look[i]})
		}
		return o
	}
	if x.refused != "" {
		return o
	}
	o.Rig, o.Hold = s.standing(x.q), holds(x.p)
	if x.q.Setup.Engine > 0 {
		speed := amount(unit.AngularSpeed, x.q.Setup.Engine)
		at := amount(unit.Kelvin, x.regulatorK)
		o.Engine, o.Regulator = &speed, &at
	}
	o.Regime, o.Second, o.Points = string(x.regime), string(x.second), x.roots
	if x.unsolved {
		return o
	}
	for i := range x.values {
		o.Readings = append(o.Readings, x.values[i].out())
	}
	return o
}

// standing names the position of every place that is not at rest.
func (s *situation) standing(q question.Question) map[string]string {
	out := map[string]string{}
	for i, p := range s.sys.Rig.Places {
		if at := q.Setup.Rig.At(i); at != s.sys.Rig.Rest.At(i) {
			out[p.ID] = p.Positions[at].ID
		}
	}
	return out
}

func (v *predicted) out() readingOut {
	dim, _ := v.obs.Dim()
	to := func(si float64) float64 { return unit.ToUCUM(dim, si) }
	tail := (1 - coverage) / 2
	o := readingOut{
		measureOut: measure(v.obs), Median: to(v.quantile(0.5)), Low: to(v.quantile(tail)), High: to(v.quantile(1 - tail)),
		Straight: v.straight, Limits: []limitAtOut{},
	}
	if v.u > 0 {
		u, r := to(v.u), to(v.resolves)
		o.U, o.Resolution = &u, &r
	}
	for i := range v.limits {
		l := limitOf(&v.limits[i])
		l.PerKelvin = 0 // it is in the bounds already
		o.Limits = append(o.Limits, limitAtOut{l, v.within(v.limits[i].Low, v.limits[i].High)})
	}
	return o
}
