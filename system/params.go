package system

import (
	"sort"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/unit"
)

// ParamKind is a scalar that the models know, besides the resistances of the
// elements. A system file gives it a distribution under params, or leaves it at
// its nominal value; faults may change it either way.
type ParamKind struct {
	ID       string
	Dim      unit.Dim
	Lo, Hi   float64 // what the models accept, SI
	Nominal  float64 // its value where the file gives none
	Required bool    // has no nominal value: the file must give it
	Only     string  // the one kind of regulator that has it; "" = every kind
	Of       string  // what a vehicle must have for it: secondBattery, pair, split, relay, secondMachine; "" = nothing
	About    string
}

// paramKinds is the vocabulary shared by files and models.
var paramKinds = byID(withSecond([]ParamKind{
	{ID: "battery.soc", Dim: unit.One, Lo: 0, Hi: 1, Required: true, About: "state of charge"},
	{ID: "battery.r0", Dim: unit.Ohm, Lo: 1e-5, Hi: 10, Required: true, About: "internal resistance, full, 25 degC"},
	{ID: "battery.sulphation", Dim: unit.One, Lo: 1, Hi: 1e4, Nominal: 1, About: "factor on the internal resistance"},
	{ID: "battery.cell-loss", Dim: unit.Volt, Lo: 0, Hi: 6.4, Nominal: 0, About: "voltage missing in a weak cell"},
	{ID: "battery.surface", Dim: unit.Volt, Lo: -1, Hi: 2, Nominal: 0, About: "surface charge"},
	{ID: "second-battery.apart", Dim: unit.One, Lo: -20, Hi: 20, Nominal: 0, Of: pair, About: "charge of the second battery against the first: difference of their logits"},
	{ID: "second-battery.soc", Dim: unit.One, Lo: 0, Hi: 1, Required: true, Of: split, About: "state of charge of the second battery"},
	{ID: "second-battery.r0", Dim: unit.Ohm, Lo: 1e-5, Hi: 10, Required: true, Of: secondBattery, About: "internal resistance of the second battery, full, 25 degC"},
	{ID: "second-battery.sulphation", Dim: unit.One, Lo: 1, Hi: 1e4, Nominal: 1, Of: secondBattery, About: "factor on the internal resistance of the second battery"},
	{ID: "second-battery.cell-loss", Dim: unit.Volt, Lo: 0, Hi: 6.4, Nominal: 0, Of: secondBattery, About: "voltage missing in a weak cell of the second battery"},
	{ID: "second-battery.surface", Dim: unit.Volt, Lo: -1, Hi: 2, Nominal: 0, Of: secondBattery, About: "surface charge of the second battery"},
	{ID: "machine.flux", Dim: unit.VoltSecond, Lo: 1e-6, Hi: 1, Required: true, About: "peak flux linkage of a phase at the knee, per electrical radian"},
	{ID: "machine.inductance", Dim: unit.Henry, Lo: 1e-7, Hi: 0.1, Required: true, About: "synchronous inductance of a phase"},
	{ID: "machine.stator-ohms", Dim: unit.Ohm, Lo: 1e-4, Hi: 100, Required: true, About: "resistance of a phase"},
	{ID: "machine.rotor-ohms", Dim: unit.Ohm, Lo: 1e-3, Hi: 1e9, Required: true, About: "field winding, at 20 degC"},
	{ID: "machine.turns", Dim: unit.One, Lo: 0, Hi: 1, Nominal: 1, About: "share of the field's ampere-turns that works"},
	{ID: "machine.slip", Dim: unit.One, Lo: 0, Hi: 1, Nominal: 0, About: "share of speed lost at the belt"},
	{ID: "machine.residual", Dim: unit.One, Lo: 0, Hi: 0.5, Nominal: 0, About: "flux without field current, share of the flux at the knee"},
	{ID: "machine.brush-volts", Dim: unit.Volt, Lo: 0, Hi: 12, Nominal: 0, About: "voltage drop of both brushes"},
	{ID: "regulator.setpoint", Dim: unit.Volt, Lo: 1, Hi: 60, Required: true, About: "regulated voltage at 27 degC"},
	{ID: "regulator.slope", Dim: unit.VoltPerKelvin, Lo: -0.2, Hi: 0.2, Nominal: 0, About: "slope of the regulated voltage with temperature"},
	{ID: "regulator.band", Dim: unit.Volt, Lo: 0, Hi: 5, Required: true, About: "width over which the field goes from full to none"},
	{ID: "regulator.drop", Dim: unit.Volt, Lo: 0, Hi: 12, Required: true, About: "drop of the output stage"},
	{ID: "regulator.on-ohms", Dim: unit.Ohm, Lo: 1e-3, Hi: 1e7, Nominal: 0.05, About: "resistance of the output stage, or of the closed contacts"},
	{ID: "regulator.series-ohms", Dim: unit.Ohm, Lo: 0.2, Hi: 1e7, Required: true, Only: SupplySideVibrating, About: "resistance that carries the field while the contacts are open"},
	{ID: "regulator.coil-ohms", Dim: unit.Ohm, Lo: 1, Hi: 1e7, Required: true, Only: SupplySideVibrating, About: "winding that pulls the contacts open, supply to case"},
	{ID: "regulator.standing", Dim: unit.One, Lo: 0, Hi: 1, Nominal: 0.25, Only: BuiltInSensing, About: "share of the duty that excites while the machine stands"},
	{ID: "regulator.lamp-ohms", Dim: unit.Ohm, Lo: 0.5, Hi: 1e9, Nominal: 2, Only: BuiltInSensing, About: "driver of the charge warning lamp while it conducts"},
	{ID: "regulator.commanded", Dim: unit.Volt, Lo: 1, Hi: 60, Required: true, Only: Commanded, About: "what the control unit asks for with nothing switched on"},
	{ID: "regulator.forced", Dim: unit.Volt, Lo: 1, Hi: 60, Required: true, Only: Commanded, About: "what the control unit asks for with a large load on"},
	{ID: "regulator.demand", Dim: unit.One, Lo: 0, Hi: 1, Nominal: 0, Only: Commanded, About: "0 nothing switched on, 1 a large load on: positions of places set it"},
	{ID: "regulator.uncommanded", Dim: unit.One, Lo: 0, Hi: 1, Nominal: 0, Only: Commanded, About: "0 the command arrives, 1 the regulator holds its own default"},
	{ID: "regulator.gain", Dim: unit.One, Lo: 0.1, Hi: 10, Nominal: 1, Only: Commanded, About: "what it holds over what it means to hold"},
	{ID: "regulator.answers", Dim: unit.One, Lo: 0, Hi: 1, Nominal: 1, Only: Commanded, About: "1 reports its duty on the feedback line, 0 is silent"},
	{ID: "regulator.stuck", Dim: unit.One, Lo: -1, Hi: 1, Nominal: 0, About: "-1 no field, 0 works, 1 full field"},
	{ID: "relay.coil-ohms", Dim: unit.Ohm, Lo: 1, Hi: 1e9, Required: true, Of: relay, About: "winding of the relay"},
	{ID: "relay.contact-ohms", Dim: unit.Ohm, Lo: 1e-5, Hi: 1e9, Nominal: 2e-3, Of: relay, About: "contacts of the relay while they are closed"},
	{ID: "relay.closes", Dim: unit.Volt, Lo: 0.1, Hi: 60, Required: true, Of: relay, About: "coil voltage from which the relay is closed"},
	{ID: "relay.opens", Dim: unit.Volt, Lo: 0.1, Hi: 60, Required: true, Of: relay, About: "coil voltage up to which the relay is open"},
	{ID: "splitter.drop", Dim: unit.Volt, Lo: 0.05, Hi: 1.5, Required: true, Of: splitterPart, About: "drop of a diode of the splitter at 10 A"},
	{ID: "bank.amps", Dim: unit.Amp, Lo: 0, Hi: 2000, Nominal: 0, About: "current the load tester draws"},
	{ID: "temps.bay", Dim: unit.KelvinDiff, Lo: -50, Hi: 200, Nominal: 0, About: "engine bay over ambient"},
}))

// withSecond adds the parameters of a second machine and its regulator: each as the
// first one's.
func withSecond(list []ParamKind) []ParamKind {
	for _, k := range list {
		if strings.HasPrefix(k.ID, FirstMachine) || strings.HasPrefix(k.ID, FirstRegulator) {
			k.ID, k.Of, k.About = "second-"+k.ID, secondMachine, k.About+", of the second machine"
			list = append(list, k)
		}
	}
	return list
}

func byID(list []ParamKind) map[string]ParamKind {
	out := map[string]ParamKind{}
	for _, k := range list {
		out[k.ID] = k
	}
	return out
}

// LookupParam returns what the models know of a parameter.
func LookupParam(id string) (ParamKind, bool) {
	k, ok := paramKinds[id]
	return k, ok
}

// ParamIDs lists the parameters that the models know, in order.
func ParamIDs() []string {
	out := make([]string, 0, len(paramKinds))
	for id := range paramKinds {
		out = append(out, id)
	}
	sort.Strings(out)
	return out
}

// unused notes a parameter that the file's kind of regulator does not have: it
// would change nothing, and nobody would be told.
func (r *reader) unused(id string, at yamlread.Pos) {
	kind := r.kindFor(id)
	if of := paramKinds[id].Of; of != "" && !r.s.hasPart(of) {
		r.f.Add(at, id+" belongs to "+of+", and this vehicle has none", "no "+id+", or "+partKeys[of])
	}
	if k := paramKinds[id]; k.Only != "" && kind != "" && k.Only != kind {
		r.f.Add(at, id+" belongs to a regulator of the kind "+k.Only+", and this one is "+kind, "no "+id+", or kind: "+k.Only)
	}
}

// kindFor is the kind of the regulator that a parameter is of.
func (r *reader) kindFor(id string) string {
	if strings.HasPrefix(id, SecondRegulator) {
		return r.s.SecondRegulator.Kind
	}
	return r.s.Regulator.Kind
}

// What a vehicle must have for some parameters.
const (
	secondMachine = "a second machine"
	secondBattery = "a second battery"
	pair          = "a pair of batteries in series"
	split         = "a second battery beside the first"
	relay         = "a relay"
	splitterPart  = "a diode splitter"
)

// partKeys say how a file gives a vehicle what a parameter belongs to.
var partKeys = map[string]string{
	secondBattery: "link: [post, post] under battery", pair: "link: [post, post] under battery",
	split: "second-battery: {…}", relay: "relay: {…}",
	secondMachine: "second-machine: {…}",
	splitterPart:  "splitter: {…}",
}

func (s *System) hasPart(of string) bool {
	switch of {
	case pair:
		return s.Series()
	case split:
		return s.Second.Positive != ""
	case relay:
		return s.Relay.CoilPlus != ""
	case secondMachine:
		return s.Twin()
	case splitterPart:
		return s.Splitter.In != ""
	}
	return s.Series() || s.Second.Positive != ""
}

// has says whether the file's vehicle has what a parameter belongs to.
func (r *reader) has(k ParamKind) bool {
	return (k.Only == "" || k.Only == r.kindFor(k.ID)) && (k.Of == "" || r.s.hasPart(k.Of))
}

// Nominal returns the value of a parameter before any fault: the median that
// the file gives, or the model's own where it gives none. False for an id that
// the models do not know.
func (s *System) Nominal(id string) (float64, bool) {
	for _, p := range s.Params {
		if p.ID == id {
			return p.Median, true
		}
	}
	k, ok := paramKinds[id]
	return k.Nominal, ok
}

// laws of a free parameter.
var laws = []string{"normal", "lognormal", "logit-normal"}

func (r *reader) params(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("parameter")
		p := Param{ID: r.declare("param", m)}
		k, known := paramKinds[p.ID]
		if p.ID != "" && !known {
			m.Add("no model knows it", yamlread.Suggest(p.ID, ParamIDs()))
		}
		r.unused(p.ID, m.May("id").Pos())
		p.Name, p.Dim = m.May("name").Text(), k.Dim
		if p.Name == "" {
			p.Name = k.About
		}
		p.Law = m.Need("law", "lognormal").OneOf(laws...)
		median, spread := m.Need("median", "its middle value"), m.Need("spread", "its spread")
		if known {
			r.distribution(&p, k, median, spread)
		}
		p.Source, p.Basis = source(m)
		m.Done()
		r.s.Params = append(r.s.Params, p)
	}
	for _, id := range ParamIDs() {
		k := paramKinds[id]
		if _, given := r.ids["param"][id]; k.Required && r.has(k) && !given && list.IsList() {
			list.Add("params: "+id+" is missing ("+k.About+")", "{id: "+id+", law: …, median: …, spread: …}")
		}
	}
}

// distribution reads median and spread in the terms of the law.
func (r *reader) distribution(p *Param, k ParamKind, median, spread yamlread.Node) {
	p.Median = median.Quantity(k.Dim, yamlread.Within(k.Lo, k.Hi, "that the model accepts: "+unit.Format(k.Dim, k.Lo)+" to "+unit.Format(k.Dim, k.Hi)))
	switch p.Law {
	case "lognormal":
		if p.Median < 0 {
			median.Add("a lognormal median must be greater than 0", "law: normal, or a positive median")
		}
		p.Spread = spread.Number(yamlread.FromOne)
	case "logit-normal":
		if p.Median <= 0 || p.Median >= 1 {
			median.Add("a logit-normal median must lie between 0 and 1", "a share such as 0.7")
		}
		p.Spread = spread.Number(yamlread.NotNegative)
	case "normal":
		p.Spread = spread.Quantity(k.Dim, yamlread.NotNegative)
	}
}
