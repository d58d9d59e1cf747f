package main

import (
	"encoding/hex"
	"math"

	"chargewright/system"
	"chargewright/unit"
)

type systemsCmd struct {
	System string `arg:"" optional:"" help:"Show this one in full: an id, or a system file. Without it, all are listed." placeholder:"ID"`
	JSON   bool   `name:"json" help:"Print JSON instead of text."`
}

// Run lists the library, or prints one system in full.
func (c *systemsCmd) Run(e *env) error {
	if c.System != "" {
		sh, err := openShelf(e, c.System)
		if err != nil {
			return err
		}
		if c.JSON {
			o := outline(sh)
			o.systemParts = parts(sh.sys)
			return printJSON(e.stdout, systemsOut{outputFormat, []systemOut{o}})
		}
		t := &text{colour: e.colour}
		printSystem(t, sh)
		return t.to(e.stdout)
	}
	out := systemsOut{Format: outputFormat}
	t := &text{colour: e.colour}
	for _, id := range system.Library() {
		sh, err := openShelf(e, id)
		if err != nil {
			return err
		}
		out.Systems = append(out.Systems, outline(sh))
		if !c.JSON {
			t.entry(id, sh.sys.Name, unit.Format(unit.Volt, sh.sys.Volts)+", "+counts(sh))
		}
	}
	if c.JSON {
		return printJSON(e.stdout, out)
	}
	return t.to(e.stdout)
}

func counts(sh *shelf) string {
	return plural(len(sh.sys.Points), "point", "points") + ", " + plural(len(known(sh.sys)), "fault", "faults") +
		", " + plural(len(sh.procedures()), "procedure", "procedures")
}

// known are the faults that may be named as a cause: those outside the list are
// there to test it.
func known(sys *system.System) []*system.Fault {
	var out []*system.Fault
	for i := range sys.Faults {
		if f := &sys.Faults[i]; !f.Outside {
			out = append(out, f)
		}
	}
	return out
}

// coverage of every interval that is printed.
const coverage = 0.9

// ninetieth is how many standard deviations from the middle a normal's central
// 90 % end.
const ninetieth = 1.6448536269514722

// interval is the central 90 % of a free figure's prior, SI.
func interval(law string, median, spread float64) (low, high float64) {
	switch law {
	case "lognormal":
		k := math.Pow(spread, ninetieth)
		return median / k, median * k
	case "logit-normal":
		l := math.Log(median / (1 - median))
		logistic := func(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
		return logistic(l - ninetieth*spread), logistic(l + ninetieth*spread)
	}
	return median - ninetieth*spread, median + ninetieth*spread
}

// systemsOut is what --json prints; schema output-systems.
type systemsOut struct {
	Format  int         `json:"format"`
	Systems []systemOut `json:"systems"`
}

type systemOut struct {
	ID         string   `json:"id"`
	Name       string   `json:"name"`
	About      string   `json:"about"`
	SHA256     string   `json:"sha256"`
	Volts      quantity `json:"volts"`
	Faults     int      `json:"faults"`
	Procedures int      `json:"procedures"`
	*systemParts
}

// systemParts is the rest of one that is shown in full.
type systemParts struct {
	Points    []pointOut   `json:"points"`
	Elements  []elementOut `json:"elements"`
	Machine   machineOut   `json:"machine"`
	Battery   batteryOut   `json:"battery"`
	Regulator regulatorOut `json:"regulator"`
	// Of a second machine on the same line, where there is one.
	SecondMachine   *machineOut   `json:"second_machine,omitempty"`
	SecondRegulator *regulatorOut `json:"second_regulator,omitempty"`

	LoadTester *loadOut     `json:"load_tester,omitempty"`
	Parameters []paramOut   `json:"parameters"`
	Places     []placeOut   `json:"places"`
	Limits     []limitOut   `json:"limits"`
	Cautions   []cautionOut `json:"cautions"`
}

type pointOut struct {
	ID        string `json:"id"`
	Name      string `json:"name"`
	Number    int    `json:"number,omitempty"` // left out where it cannot be touched
	Terminal  string `json:"terminal,omitempty"`
	Reference bool   `json:"reference,omitempty"`
}

type elementOut struct {
	ID     string    `json:"id"`
	Name   string    `json:"name"`
	Kind   string    `json:"kind"`
	From   string    `json:"from"`
	To     string    `json:"to"`
	Median float64   `json:"median"`
	Low    float64   `json:"low"`
	High   float64   `json:"high"`
	Unit   string    `json:"unit"`
	Spread float64   `json:"spread"` // times or divided by
	Area   *quantity `json:"area,omitempty"`
	Length *quantity `json:"length,omitempty"`
	Off    bool      `json:"off,omitempty"`
	Part   string    `json:"part,omitempty"`
	origin
}

type machineOut struct {
	Output          string   `json:"output"`
	Case            string   `json:"case"`
	RingA           string   `json:"ring_a"`
	RingB           string   `json:"ring_b"`
	PolePairs       int      `json:"pole_pairs"`
	PulleyRatio     float64  `json:"pulley_ratio"`
	RatedAmps       quantity `json:"rated_amps"`
	RatedVolts      quantity `json:"rated_volts"`
	RatedEngine     quantity `json:"rated_engine"`
	DiodeSaturation quantity `json:"diode_saturation"`
	DiodeEmission   float64  `json:"diode_emission"`
	DiodeOhms       quantity `json:"diode_ohms"`
	FluxKnee        quantity `json:"flux_knee"`
	Saturation      float64  `json:"saturation"`
}

type batteryOut struct {
	Positive    string   `json:"positive"`
	Negative    string   `json:"negative"`
	Capacity    quantity `json:"capacity"`
	Serviceable bool     `json:"serviceable"`
}

type regulatorOut struct {
	Kind   string    `json:"kind"`
	Supply string    `json:"supply"`
	Field  string    `json:"field"`
	Case   string    `json:"case"`
	Sense  [2]string `json:"sense"`

	Lamp     string `json:"lamp,omitempty"`
	Feedback string `json:"feedback,omitempty"`
	Asked    string `json:"asked,omitempty"`
}

type loadOut struct {
	Plus  string `json:"plus"`
	Minus string `json:"minus"`
}

type paramOut struct {
	ID     string  `json:"id"`
	Name   string  `json:"name"`
	Law    string  `json:"law"`
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Unit   string  `json:"unit"`
	Spread float64 `json:"spread"` // as the law has it
	origin
}

type placeOut struct {
	ID        string        `json:"id"`
	Name      string        `json:"name"`
	Role      string        `json:"role"`
	Positions []positionOut `json:"positions"`
}

type positionOut struct {
	ID     string    `json:"id"`
	Name   string    `json:"name"`
	Inert  bool      `json:"inert,omitempty"`
	Engine *quantity `json:"engine,omitempty"`
}

type limitOut struct {
	ID        string   `json:"id"`
	Procedure string   `json:"procedure"`
	Value     int      `json:"value"`
	Low       *float64 `json:"low,omitempty"`
	High      *float64 `json:"high,omitempty"`
	Unit      string   `json:"unit"`
	PerKelvin float64  `json:"per_kelvin,omitempty"` // of both ends, from 27 Cel
	Condition string   `json:"condition,omitempty"`
	origin
}

type cautionOut struct {
	ID   string `json:"id"`
	Text string `json:"text"`
	origin
}

func outline(sh *shelf) systemOut {
	s := sh.sys
	return systemOut{
		ID: s.ID, Name: s.Name, About: s.About, SHA256: hex.EncodeToString(s.SHA256[:]),
		Volts: amount(unit.Volt, s.Volts), Faults: len(known(s)), Procedures: len(sh.procedures()),
	}
}
