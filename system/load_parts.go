package system

import (
	"chargewright/internal/yamlread"
	"chargewright/unit"
)

func (r *reader) machine(x *Machine, m *yamlread.Map) {
	x.Output = m.Need("output", "the point of the output stud").Ref("point")
	x.Case = m.Need("case", "the point of the case").Ref("point")
	x.RingA = m.Need("ring-a", "the point of one slip ring").Ref("point")
	x.RingB = m.Need("ring-b", "the point of the other slip ring").Ref("point")
	x.PolePairs = m.Need("pole-pairs", "6").Count(yamlread.Within(1, 60, "between 1 and 60"))
	x.PulleyRatio = m.Need("pulley-ratio", "2.3").Number(yamlread.Positive)
	rated := m.Need("rated", "{amps: 38 A, volts: 15 V, engine: 1250 rpm}").Map("rated")
	x.RatedAmps = rated.Need("amps", "38 A").Quantity(unit.Amp, yamlread.Positive)
	x.RatedVolts = rated.Need("volts", "15 V").Quantity(unit.Volt, yamlread.Positive)
	x.RatedEngine = rated.Need("engine", "1250 rpm").Quantity(unit.AngularSpeed, yamlread.Positive)
	rated.Done()
	diode := m.Need("diode", "{saturation: 5e-9 A, emission: 1.5, ohms: 5 mOhm}").Map("diode")
	x.DiodeSaturation = diode.Need("saturation", "5e-9 A").Quantity(unit.Amp, yamlread.Positive)
	x.DiodeEmission = diode.Need("emission", "1.5").Number(yamlread.Within(0.5, 4, "between 0.5 and 4"))
	x.DiodeOhms = diode.Need("ohms", "5 mOhm").Quantity(unit.Ohm, yamlread.NotNegative)
	diode.Done()
	x.FluxKnee = m.Need("flux-knee", "2.5 A").Quantity(unit.Amp, yamlread.Positive)
	x.Saturation = m.Need("saturation", "1").Number(yamlread.NotNegative)
	r.fieldDiodes(x, m)
	m.Done()
}

// fieldDiodes reads what a machine with three field diodes has more: the point
// that they feed, and what they are.
func (r *reader) fieldDiodes(x *Machine, m *yamlread.Map) {
	plus, diode := m.May("d-plus"), m.May("field-diode")
	if plus.Present() {
		x.DPlus = plus.Ref("point")
	}
	if plus.Present() != diode.Present() {
		m.Add("d-plus and field-diode belong together: a machine with field diodes has both", "both, or neither")
	}
	if !diode.Present() {
		return
	}
	d := diode.Map("field-diode")
	x.FieldDiodeSaturation = d.Need("saturation", "1e-8 A").Quantity(unit.Amp, yamlread.Positive)
	x.FieldDiodeEmission = d.Need("emission", "1.7").Number(yamlread.Within(0.5, 4, "between 0.5 and 4"))
	x.FieldDiodeOhms = d.Need("ohms", "20 mOhm").Quantity(unit.Ohm, yamlread.Positive)
	d.Done()
}

func (r *reader) battery(x *Battery, m *yamlread.Map) {
	x.Positive = m.Need("positive", "the point of the positive post").Ref("point")
	x.Negative = m.Need("negative", "the point of the negative post").Ref("point")
	x.AmpHours = m.Need("capacity", "55 Ah").Quantity(unit.AmpHour, yamlread.Positive) / 3600
	x.Serviceable = m.Need("serviceable", "true or false: do the caps come off").Yes()
	if link := m.May("link"); link.Present() {
		x.Upper, x.Lower = r.between(link)
		if x == &r.s.Second {
			link.Add("a second battery is one battery", "link: under battery alone")
		}
	}
	m.Done()
}

// relay reads a relay that joins a second battery.
func (r *reader) relay(m *yamlread.Map) {
	if !m.Present() {
		return
	}
	x := &r.s.Relay
	x.CoilPlus, x.CoilMinus = r.between(m.Need("coil", "[point, point]: the ends of its winding"))
	x.In, x.Out = r.between(m.Need("contacts", "[point, point]: the first battery's side, the second's"))
	m.Done()
}

// splitter reads a diode splitter between the machine and two batteries.
func (r *reader) splitter(m *yamlread.Map) {
	if !m.Present() {
		return
	}
	x := &r.s.Splitter
	x.In = m.Need("in", "the point of its plate, which the machine feeds").Ref("point")
	x.Out[0], x.Out[1] = r.between(m.Need("out", "[point, point]: its outlet to the first battery, to the second"))
	x.Emission = m.Need("emission", "1.7").Number(yamlread.Within(0.5, 4, "between 0.5 and 4"))
	m.Done()
}

// Kinds of regulator that prediction has a model of. They say what the
// regulator does and how it is joined, not in which vehicle.
const (
	EarthSideElectronic = "earth-side-electronic" // two wires: supply, which it senses too, and field
	EarthSideThreeWay   = "earth-side-three-way"  // the same with a sense wire of its own, to which the field's current returns
	SupplySideVibrating = "supply-side-vibrating" // contacts between supply and field, sensing at its own pins
	BuiltInLampExcited  = "built-in-lamp-excited" // inside a machine with field diodes: fed by D+ as the field is, and sensing it
	BuiltInSensing      = "built-in-sensing"      // in the machine, fed from the output, woken by its lamp terminal, with a sense terminal
	Commanded           = "commanded"             // in the machine, fed from the output; a control unit says what to hold and hears the duty
)

var regulatorKinds = []string{EarthSideElectronic, EarthSideThreeWay, SupplySideVibrating, BuiltInLampExcited, BuiltInSensing, Commanded}

func (r *reader) regulator(x *Regulator, of *Machine, m *yamlread.Map) {
	r.pairAt = append(r.pairAt, m.Pos())
	x.Kind = m.Need("kind", regulatorKinds[0]).OneOf(regulatorKinds...)
	x.Supply = m.Need("supply", "the point of its supply pin").Ref("point")
	x.Field = m.Need("field", "the point of its field pin").Ref("point")
	x.Case = m.Need("case", "the point of its case").Ref("point")
	x.Volts = r.s.Volts
	if v := m.May("volts"); v.Present() {
		x.Volts = v.Quantity(unit.Volt, yamlread.Positive)
	}
	sense := m.Need("sense", "[point, point]: between which it senses")
	x.SensePlus, x.SenseMinus = r.between(sense)
	if sense.Present() && x.SensePlus != "" && x.Supply != "" && x.Case != "" {
		x.senses(of, sense)
	}
	x.insidePins(m)
	m.Done()
}

// senses holds where a regulator senses against its kind: each kind's winding or
// divider hangs on pins of its own.
func (x *Regulator) senses(of *Machine, at yamlread.Node) {
	own := "sense: [" + x.Supply + ", " + x.Case + "]"
	switch {
	case x.Kind == SupplySideVibrating && (x.SensePlus != x.Supply || x.SenseMinus != x.Case):
		at.Add("the winding of vibrating contacts hangs between supply pin and case, and senses there", own)
	case x.Kind == EarthSideThreeWay && x.SensePlus == x.Supply:
		at.Add("a regulator with three wires senses on the third, not on its supply pin", "the point of its sense pin, or kind: "+EarthSideElectronic)
	case x.Kind == EarthSideThreeWay && x.SenseMinus != x.Case:
		at.Add("a regulator with three wires senses against its case", "sense: ["+x.SensePlus+", "+x.Case+"]")
	case x.Kind == BuiltInLampExcited && x.SenseMinus != x.Case:
		at.Add("a built-in regulator senses what feeds it or its sense wire, against its case", own)
	}
	switch has := of.DPlus != ""; {
	case x.Kind == BuiltInLampExcited && !has:
		at.Add("a lamp-excited regulator is fed by the field diodes, and the machine has none", "d-plus and field-diode under machine, or another kind of regulator")
	case x.Kind != BuiltInLampExcited && has:
		at.Add("the machine has field diodes, which this kind of regulator makes no use of", "kind: "+BuiltInLampExcited+", or no d-plus under machine")
	}
}

// bank reads where the load tester is clipped: on the battery's posts, unless the
// file says otherwise.
func (r *reader) bank(m *yamlread.Map) {
	x := &r.s.Bank
	x.Plus, x.Minus = r.s.Battery.Positive, r.s.Battery.Negative
	if m.Present() {
		x.Plus = m.Need("plus", "a point").Ref("point")
		x.Minus = m.Need("minus", "a point").Ref("point")
		m.Done()
	}
}
