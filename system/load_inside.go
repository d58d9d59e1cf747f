package system

import "chargewright/internal/yamlread"

// insidePins reads what only regulators inside the machine have.
func (x *Regulator) insidePins(m *yamlread.Map) {
	for _, p := range []struct {
		key, kind, about string
		into             *string
	}{
		{"lamp", BuiltInSensing, "the point of its lamp terminal", &x.Lamp},
		{"feedback", Commanded, "the point of its feedback terminal", &x.Feedback},
		{"asked", Commanded, "the point whose volts are what the control unit says that it asks for", &x.Asked},
	} {
		n := m.May(p.key)
		switch {
		case x.Kind == p.kind:
			*p.into = m.Need(p.key, p.about).Ref("point")
		case n.Present():
			n.Add(p.key+" belongs to a regulator of the kind "+p.kind, "no "+p.key+", or kind: "+p.kind)
			_ = n.Ref("point")
		}
	}
	if x.Kind == BuiltInSensing && x.SensePlus != "" && x.SensePlus == x.Supply {
		m.Add("a regulator of the kind "+BuiltInSensing+" senses on a terminal of its own, not on its supply", "the point of its sense terminal under sense")
	}
}

// insidePoints are the points that the terminals of a regulator inside the machine
// join to its case by what it is made of.
func (x *Regulator) insidePoints() []string {
	var out []string
	for _, p := range []string{x.Lamp, x.Feedback, x.Asked} {
		if p != "" {
			out = append(out, p)
		}
	}
	return out
}
