package main

import (
	"chargewright/fit"
	"chargewright/system"
	"chargewright/unit"
)

// fitOut is what --json prints; schema output-fit.
type fitOut struct {
	Format     int              `json:"format"`
	ID         string           `json:"id"`
	Template   string           `json:"template"`
	Manual     string           `json:"manual"`
	Basis      system.Basis     `json:"basis"`
	Seed       uint64           `json:"seed"`
	Starts     int              `json:"starts"`
	Same       int              `json:"same_end"`
	Others     int              `json:"other_ends"`
	Figures    []fitFigureOut   `json:"figures"`
	Unknowns   []fitUnknownOut  `json:"unknowns"`
	Directions []fitDirection   `json:"open_directions"`
	Conflicts  []fitConflictOut `json:"contradictions"`
	Notes      []string         `json:"notes"`
	Written    string           `json:"written,omitempty"` // the file of --out
	System     string           `json:"system,omitempty"`  // the system file, when none was written
}

type fitFigureOut struct {
	ID         string       `json:"id"`
	Kind       fit.Kind     `json:"kind"`
	Words      string       `json:"words"`
	Page       string       `json:"page"`
	Line       int          `json:"line"`
	Basis      system.Basis `json:"basis"`
	Unit       string       `json:"unit"`
	Low        *float64     `json:"low"` // null: open
	High       *float64     `json:"high"`
	Predicted  float64      `json:"predicted"`
	Misfit     float64      `json:"misfit"`    // in the figure's own tolerance
	U          float64      `json:"u"`         // of the prediction, k=1
	InFile     float64      `json:"u_in_file"` // from the system file, whose spreads stand side by side
	TimeDomain *float64     `json:"time_domain"`
}

type fitIntervalOut struct {
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

type fitUnknownOut struct {
	ID           string         `json:"id"`
	Name         string         `json:"name"`
	Unit         string         `json:"unit"`
	Coverage     float64        `json:"coverage"`
	Prior        fitIntervalOut `json:"prior"`
	Fitted       fitIntervalOut `json:"fitted"`
	Removed      float64        `json:"variance_removed"`
	Verdict      fit.Verdict    `json:"verdict"`
	FromTemplate bool           `json:"from_template"`
	FiguresSay   []string       `json:"figures_that_say"`
	Settle       string         `json:"would_settle"`
	With         []fitPartOut   `json:"goes_with"`
	InFile       *fitInFileOut  `json:"in_file"` // null: the system file has no spread for it
}

type fitInFileOut struct {
	Median float64 `json:"median"`
	Spread float64 `json:"spread"` // times/divide, or one standard deviation in the unit
}

type fitDirection struct {
	Left  float64      `json:"variance_left"`
	Parts []fitPartOut `json:"parts"`
}

type fitPartOut struct {
	ID   string  `json:"id"`
	Unit string  `json:"unit"`
	From float64 `json:"from"`
	To   float64 `json:"to"`
}

type fitConflictOut struct {
	Figures []string `json:"figures"`
	Words   string   `json:"words"`
}

func (c *fitCmd) out(r *fit.Result, refused bool) fitOut {
	x := r.Figures
	o := fitOut{
		Format: outputFormat, ID: x.ID, Template: x.Template.ID, Manual: x.Manual, Basis: x.Basis,
		Seed: r.Seed, Starts: r.Starts, Same: r.Same, Others: r.Others,
		Directions: []fitDirection{}, Conflicts: []fitConflictOut{}, Notes: append([]string{}, r.Notes...),
	}
	for i := range r.Fitted {
		o.Figures = append(o.Figures, fitFigure(&r.Fitted[i]))
	}
	for i := range r.Unknowns {
		o.Unknowns = append(o.Unknowns, fitUnknown(&r.Unknowns[i]))
	}
	for _, d := range r.Open {
		o.Directions = append(o.Directions, fitDirection{d.Left, fitParts(d.Parts)})
	}
	for _, k := range r.Conflicts {
		o.Conflicts = append(o.Conflicts, fitConflictOut(k))
	}
	switch {
	case refused:
	case c.Out != "":
		o.Written = c.Out
	default:
		o.System = string(r.System)
	}
	return o
}

func fitFigure(f *fit.Fitted) fitFigureOut {
	to := func(si float64) float64 { return unit.ToUCUM(f.Dim(), si) }
	return fitFigureOut{
		ID: f.ID, Kind: f.Kind, Words: f.Words(), Page: f.Page, Line: f.Pos.Line, Basis: f.Basis, Unit: unit.UCUM(f.Dim()),
		Low: maybe(f.Dim(), f.Low), High: maybe(f.Dim(), f.High), Predicted: to(f.Predicted), Misfit: f.Misfit,
		U: to(f.Spread), InFile: to(f.InFile), TimeDomain: maybe(f.Dim(), f.TimeDomain),
	}
}

func fitUnknown(k *fit.Known) fitUnknownOut {
	ends := func(i fit.Interval) fitIntervalOut {
		return fitIntervalOut{unit.ToUCUM(k.Dim, i.Median), unit.ToUCUM(k.Dim, i.Low), unit.ToUCUM(k.Dim, i.High)}
	}
	o := fitUnknownOut{
		ID: k.ID, Name: k.Name, Unit: unit.UCUM(k.Dim), Coverage: 0.9, Prior: ends(k.Prior), Fitted: ends(k.Fitted),
		Removed: k.Removed, Verdict: k.Verdict, FromTemplate: k.FromTemplate,
		FiguresSay: append([]string{}, k.FiguresThatSay...), Settle: k.Settle, With: fitParts(k.With),
	}
	if k.InFile {
		o.InFile = &fitInFileOut{unit.ToUCUM(k.Dim, k.FileMedian), k.FileSpread}
	}
	return o
}

func fitParts(list []fit.Part) []fitPartOut {
	out := []fitPartOut{}
	for _, p := range list {
		out = append(out, fitPartOut{p.ID, unit.UCUM(p.Dim), unit.ToUCUM(p.Dim, p.From), unit.ToUCUM(p.Dim, p.To)})
	}
	return out
}
