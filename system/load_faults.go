package system

import (
	"slices"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/unit"
)

// Patterns are the rectifier and stator patterns that machine has tables of.
var Patterns = []string{
	"healthy", "diode-open", "diode-short", "phase-open", "phase-short", "phase-earth",
	"two-open-same-side", "two-open-opposite",
}

// FieldDiodePatterns are those that only a machine with field diodes has tables of:
// there a positive and a negative diode are not one and the same.
var FieldDiodePatterns = []string{"negative-diode-open", "field-diode-open", "field-diode-short"}

// Occasions are what can bring a fault on, or what a complaint depends on.
var Occasions = []string{"always", "hot", "cold", "wet", "vibration", "load", "idle", "standing"}

// howWords are the ways a fault changes something.
var howWords = []string{"set", "times", "plus", "open", "magnitude", "times-magnitude", "plus-magnitude"}

// hows tells which of them take a value.
var hows = map[string]bool{"set": true, "times": true, "plus": true}

func (r *reader) faults(list yamlread.Node) {
	patterns := Patterns
	if r.s.Machine.DPlus != "" {
		patterns = slices.Concat(Patterns, FieldDiodePatterns)
	}
	for _, n := range list.List() {
		m := n.Map("fault")
		x := Fault{ID: r.declare("fault", m)}
		x.Name = m.Need("name", "what a technician calls it").Text()
		x.Part = m.Need("part", "the part that is at fault").Text()
		x.Outside = m.May("outside").Yes()
		x.Repair = m.Need("repair", "the id of a repair in the practice file").Ref("repair")
		x.Shows = m.Need("shows", "1").Number(yamlread.Share)
		for _, b := range m.May("brings-on").List() {
			if s := b.OneOf(Occasions...); s != "" {
				x.BringsOn = append(x.BringsOn, s)
			}
		}
		x.Note = m.May("note").Text()
		x.Pattern = m.May("pattern").OneOf(patterns...)
		if second := m.May("second-pattern"); second.Present() {
			if x.SecondPattern = second.OneOf(Patterns...); !r.s.Twin() {
				second.Add("second-pattern is of "+secondMachine+", and this vehicle has none", "pattern, or second-machine: {…}")
			}
		}
		dim := r.changes(&x, m)
		r.magnitude(&x, m, dim)
		for _, v := range m.May("follows").List() {
			x.Follows = append(x.Follows, r.follow(v))
		}
		m.Done()
		r.s.Faults = append(r.s.Faults, x)
	}
}

// changes reads what the fault does and returns the dimension its magnitude
// must have; nil when no change takes one.
func (r *reader) changes(x *Fault, m *yamlread.Map) *unit.Dim {
	var dim *unit.Dim
	for _, n := range m.May("changes").List() {
		c := n.Map("change")
		target := c.Need("target", "the id of an element or parameter")
		how := c.Need("how", "set, times, plus, open, magnitude, times-magnitude or plus-magnitude")
		v := Change{Target: target.Ref("target"), How: how.OneOf(howWords...)}
		of := unit.Ohm
		if k, ok := paramKinds[v.Target]; ok {
			of = k.Dim
			if v.How == "open" && of != unit.Ohm {
				how.Add(v.Target+" is no resistance and cannot be opened", "how: set")
			}
		}
		if strings.HasPrefix(v.How, "times") {
			of = unit.One
		}
		value := c.May("value")
		switch {
		case v.How == "" || !hows[v.How] && !value.Present():
		case hows[v.How] && !value.Present():
			c.Add("how: "+v.How+" wants a value", "value: …")
		case !hows[v.How]:
			value.Add("how: "+v.How+" takes no value", "no value; the magnitude gives it")
		default:
			v.Value = value.Quantity(of)
		}
		if strings.HasSuffix(v.How, "magnitude") {
			if dim != nil && *dim != of {
				how.Add("two changes want magnitudes in different units", "one magnitude in one unit")
			}
			dim = &of
		}
		c.Done()
		x.Changes = append(x.Changes, v)
	}
	if len(x.Changes) == 0 && !m.May("pattern").Present() && !m.May("second-pattern").Present() && m.Present() {
		m.Add("changes nothing", "changes: [{target: …, how: set, value: …}], or a pattern")
	}
	return dim
}

// magnitude reads how bad the fault can be.
func (r *reader) magnitude(x *Fault, m *yamlread.Map, dim *unit.Dim) {
	n := m.May("magnitude")
	switch {
	case dim == nil && n.Present():
		n.Add("no change uses the magnitude", "how: magnitude in one of the changes, or no magnitude")
		m.May("magnitude").Map("magnitude")
		return
	case dim == nil:
		return
	case !n.Present():
		m.Add("a change wants a magnitude", "magnitude: {low: …, high: …}")
		return
	}
	b := n.Map("magnitude")
	low, high := b.Need("low", "its smallest value that matters"), b.Need("high", "its largest value")
	x.Magnitude = &Magnitude{Dim: *dim, Low: low.Quantity(*dim, yamlread.Positive), High: high.Quantity(*dim, yamlread.Positive)}
	if x.Magnitude.Low > 0 && x.Magnitude.High > 0 && x.Magnitude.Low >= x.Magnitude.High {
		high.Add("high must be above low", "a larger high, or a smaller low")
	}
	b.Done()
}

func (r *reader) follow(n yamlread.Node) Follow {
	m := n.Map("follows")
	f := Follow{
		Fault: m.Need("fault", "the id of the fault that follows").Ref("fault"),
		Share: m.Need("share", "0.3").Number(yamlread.Share),
	}
	m.Done()
	return f
}

func (r *reader) cautions(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("caution")
		c := Caution{ID: r.declare("caution", m), Text: m.Need("text", "what to mind").Text()}
		c.Source, c.Basis = source(m)
		m.Done()
		r.s.Cautions = append(r.s.Cautions, c)
	}
}

func (r *reader) limits(list yamlread.Node) {
	for _, n := range list.List() {
		m := n.Map("limit")
		x := Limit{ID: r.declare("limit", m)}
		x.Procedure = m.Need("procedure", "the id of a procedure").Ref("procedure")
		x.Value = m.May("value").Count(yamlread.Within(0, 99, "that counts the procedure's values from 0"))
		low, high := m.May("low"), m.May("high")
		if !low.Present() && !high.Present() && m.Present() {
			m.Add("has neither low nor high", "low: …, high: …, or one of them")
		}
		var lowDim, highDim unit.Dim
		x.Low, lowDim = limitEnd(low)
		x.High, highDim = limitEnd(high)
		switch {
		case x.Low != nil && x.High != nil && lowDim != highDim:
			high.Add("low and high are in different units", "both in the same unit")
		case x.Low != nil && x.High != nil && *x.Low >= *x.High:
			high.Add("high must be above low", "a larger high, or a smaller low")
		}
		if x.Dim = highDim; x.High == nil {
			x.Dim = lowDim
		}
		if slope := m.May("per-kelvin"); slope.Present() {
			x.PerKelvin = slope.Quantity(unit.VoltPerKelvin)
			if x.Dim != unit.Volt && (x.Low != nil || x.High != nil) {
				slope.Add("only a voltage has a slope per kelvin here", "no per-kelvin")
			}
		}
		x.Condition = m.May("condition").Text()
		x.Source, x.Basis = source(m)
		m.Done()
		r.s.Limits = append(r.s.Limits, x)
	}
}

// limitEnd reads one end of a limit in whichever dimension it is written.
func limitEnd(n yamlread.Node) (*float64, unit.Dim) {
	if !n.Present() {
		return nil, unit.One
	}
	v, d, ok := n.Any()
	if !ok {
		return nil, unit.One
	}
	return &v, d
}
