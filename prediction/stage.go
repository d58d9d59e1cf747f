package prediction

import (
	"fmt"
	"slices"
	"strings"

	"chargewright/circuit"
	"chargewright/regulator"
	"chargewright/system"
)

// stage is how one kind of regulator stands in the vehicle's network: the
// device of its output stage and what it is joined to.
type stage struct {
	device circuit.Device
	pins   []string // points of the device's terminals, in order
	params int
	feeds  bool                                            // it lies between supply and field, not between field and case
	told   bool                                            // a control unit says what it holds
	more   func(*Model, *generator, *assembly, conditions) // writes the parameters that its kind has of its own
	rest   []resting                                       // what it is to an ohmmeter with nothing live
}

// resting is a resistance of the regulator with nothing live: contacts at rest
// and windings. Electronic ones count as open.
type resting struct {
	name     string
	from, to string // points
	param    string // the figure that it is
	passive  circuit.Param
}

// freewheel volts and resistance of the diode across the field; memory,
// docs/models/regulator.md.
const (
	freewheelVolts = 0.8  // [V]
	freewheelOhms  = 0.05 // [Ohm]
)

// stages are the kinds of regulator that there is a model of.
var stages = map[string]func(*system.Regulator) stage{
	system.EarthSideElectronic: func(r *system.Regulator) stage {
		return stage{device: regulator.Device{Volts: r.Volts}, pins: []string{r.Supply, r.Field, r.Case}, params: regulator.Params}
	},
	system.EarthSideThreeWay: func(r *system.Regulator) stage {
		return stage{device: regulator.Sensing{Volts: r.Volts}, pins: []string{r.Supply, r.Field, r.Case, r.SensePlus}, params: regulator.Params}
	},
	system.BuiltInLampExcited: func(r *system.Regulator) stage {
		return stage{device: regulator.SelfFed{Volts: r.Volts}, pins: []string{r.Supply, r.Field, r.Case}, params: regulator.Params}
	},
	system.SupplySideVibrating: func(r *system.Regulator) stage {
		return stage{
			device: regulator.Contacts{Volts: r.Volts}, pins: []string{r.Supply, r.Field, r.Case}, params: regulator.ContactParams, feeds: true,
			rest: []resting{
				{name: "regulator contacts", from: r.Supply, to: r.Field, param: "regulator.on-ohms"},
				{name: "regulator series resistance", from: r.Supply, to: r.Field, param: "regulator.series-ohms"},
				{name: "regulator winding", from: r.Supply, to: r.Case, param: "regulator.coil-ohms"},
			},
		}
	},
	system.BuiltInSensing: insideStage,
	system.Commanded:      commandedStage,
}

// stageOf finds a regulator's kind.
func stageOf(id string, r *system.Regulator) (stage, error) {
	of, ok := stages[r.Kind]
	if !ok {
		var known []string
		for k := range stages {
			known = append(known, k)
		}
		slices.Sort(known)
		return stage{}, fmt.Errorf("prediction: system %s: there is no model of a regulator of the kind %q: use one of %s", id, r.Kind, strings.Join(known, ", "))
	}
	return of(r), nil
}

// putRegulator writes the parameters of output stage and law.
func (m *Model) putRegulator(a *assembly, g *generator, c conditions) {
	r := g.regulator
	m.put(a, r+regulator.Drop, g.figure(a, "regulator.drop"))
	m.put(a, r+regulator.OnOhms, g.figure(a, "regulator.on-ohms"))
	if g.stage.feeds {
		m.put(a, r+regulator.SeriesOhms, g.figure(a, "regulator.series-ohms"))
		m.put(a, r+regulator.CoilOhms, g.figure(a, "regulator.coil-ohms"))
	} else {
		m.put(a, r+regulator.Freewheel, exactly(freewheelVolts))
		m.put(a, r+regulator.FreewheelOhms, exactly(freewheelOhms))
	}
	if g.stage.more != nil {
		g.stage.more(m, g, a, c)
	}
	for _, x := range g.stage.rest {
		v := g.figure(a, x.param)
		m.putPassive(a, x.passive, v)
		a.rest = append(a.rest, v.v)
	}
	l := g.law
	m.put(a, l+regulator.SetPoint, m.held(a, g))
	m.put(a, l+regulator.Slope, g.figure(a, "regulator.slope"))
	m.put(a, l+regulator.Band, g.figure(a, "regulator.band"))
	m.put(a, l+regulator.Stuck, g.figure(a, "regulator.stuck"))
	t := m.scalar(a, "temps.bay")
	t.scale(c.bay)
	t.v += c.ambient
	if c.regGiven > 0 {
		t = exactly(c.regulatorT)
	}
	m.put(a, l+regulator.Temperature, t)
}
