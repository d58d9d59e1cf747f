package fit

import (
	"math"

	"chargewright/machine"
	"chargewright/system"
	"chargewright/unit"
)

// values are the figures of a vehicle that a fit may move, by slot, in SI.
type values [slots]float64

// The slots.
const (
	flux       = iota // machine.flux [V s]
	inductance        // machine.inductance [H]
	stator            // machine.stator-ohms, warm [Ohm]
	rotor             // machine.rotor-ohms, 20 degC [Ohm]
	knee              // flux knee, as a share of nominal volts over rotor ohms [1]
	saturation        // Froehlich's a [1]
	brush             // machine.brush-volts [V]
	slip              // machine.slip [1]
	setpoint          // regulator.setpoint [V]
	slope             // regulator.slope [V/K]
	inner             // battery.r0 [Ohm]
	slots
)

// kneeAmps is the field current at which flux is 1 [A].
func (v *values) kneeAmps(nominal float64) float64 { return v[knee] * nominal / v[rotor] }

// unknown is a free figure with its prior: what machines of the class have.
type unknown struct {
	slot   int
	id     string // parameter of the system file, or the machine's key
	name   string
	dim    unit.Dim
	log    bool    // lognormal; else normal
	centre float64 // middle of the prior, SI
	sd     float64 // of the logarithm; else in SI
	unit   float64 // the template's own, from one machine to the next, in the same terms
	lo, hi float64 // bounds, in standard deviations from the centre
	settle string  // which figure of a manual would settle it
}

// Spreads of the priors, times/divide, one standard deviation: weak pulls about
// the template's figure, wide enough for any machine of its arrangement. Basis:
// memory of what such machines have (stator 0.05 to 0.2 Ohm at 35 to 55 A,
// rotor 2 to 5 Ohm at 12 V), the rest invented.
const (
	fluxPrior       = 1.5
	inductancePrior = 1.6
	statorPrior     = 1.8
	rotorPrior      = 1.35
	kneePrior       = 1.4
	saturationPrior = 1.6
	setpointPrior   = 0.35  // [V] at 12 V nominal: 13.5 to 14.8 V for the class (common practice)
	slopePrior      = 0.004 // [V/K] at 12 V nominal
	innerPrior      = 1.4
)

// wide is how far the search may go from a prior's middle, in standard
// deviations: beyond it the figures describe another arrangement.
const wide = 5

// far is from where on a figure is said to lie outside the class.
const far = 3

// base is the template as values, and the unknowns with their priors. size is
// how much more current than the template's the machine gives; the winding's
// impedance goes down with it, and pole pairs move both it and the flux.
func base(x *Figures, size float64) (values, []unknown) {
	t := x.Template
	poles := 1.0
	if x.PolePairs > 0 {
		poles = float64(t.Machine.PolePairs) / float64(x.PolePairs)
	}
	hours := 1.0
	if x.AmpHours > 0 {
		hours = t.Battery.AmpHours / x.AmpHours
	}
	k := t.Volts / 12
	var v values
	var list []unknown
	add := func(u unknown, id string, times, sd float64) {
		p := paramOf(t, id)
		u.id, u.dim = id, p.Dim
		u.unit = math.Log(max(p.Spread, 1))
		if !u.log {
			u.unit = p.Spread
		}
		if sd == 0 {
			sd = u.unit // the template's figure with the template's spread
		}
		u.centre, u.sd = p.Median*times, sd
		v[u.slot] = u.centre
		if sd > 0 && (u.centre > 0 || !u.log) {
			list = append(list, u)
		}
	}
	add(unknown{slot: flux, name: "flux constant", log: true, settle: "cut-in speed and an output at a high speed, and one at a second field current"}, "machine.flux", poles, math.Log(fluxPrior))
	add(unknown{slot: inductance, name: "inductance of a phase", log: true, settle: "an output at a high speed together with the cut-in speed"}, "machine.inductance", poles/size, math.Log(inductancePrior))
	add(unknown{slot: stator, name: "stator resistance of a phase, warm", log: true, settle: "ohms between two ends of the stator, with the temperature"}, "machine.stator-ohms", 1/size, math.Log(statorPrior))
	add(unknown{slot: rotor, name: "rotor resistance, 20 °C", log: true, settle: "ohms of the rotor or field current at stated volts, with the temperature"}, "machine.rotor-ohms", 1, math.Log(rotorPrior))
	add(unknown{slot: brush, name: "drop of both brushes", log: true, settle: "field current at two voltages"}, "machine.brush-volts", 1, 0)
	add(unknown{slot: slip, name: "belt slip", log: true, settle: "nothing in a manual: it is the belt's"}, "machine.slip", 1, 0)
	add(unknown{slot: setpoint, name: "regulated voltage at 27 °C", settle: "regulated volts with the regulator's temperature"}, "regulator.setpoint", 1, setpointPrior*k)
	add(unknown{slot: slope, name: "change of the regulated voltage with temperature", settle: "regulated volts at a second temperature, 30 K or more away"}, "regulator.slope", 1, slopePrior*k)
	add(unknown{slot: inner, name: "battery resistance, full, 25 °C", log: true, settle: "cold-cranking amps with their standard"}, "battery.r0", hours, math.Log(innerPrior))
	v[knee], v[saturation] = t.Machine.FluxKnee*v[rotor]/t.Volts, t.Machine.Saturation
	more := "output at a second field current"
	list = append(list, unknown{slot: knee, id: "machine flux-knee", name: "flux knee over the field current at nominal volts", log: true, centre: v[knee], sd: math.Log(kneePrior), settle: more})
	if v[saturation] > 0 {
		list = append(list, unknown{slot: saturation, id: "machine saturation", name: "saturation", log: true, centre: v[saturation], sd: math.Log(saturationPrior), settle: more})
	}
	for i := range list {
		list[i].bound()
	}
	return v, list
}

// paramOf is a parameter of the template; one that the file leaves out stands at
// the models' value and has no spread.
func paramOf(t *system.System, id string) system.Param {
	for _, p := range t.Params {
		if p.ID == id {
			return p
		}
	}
	k, _ := system.LookupParam(id)
	return system.Param{ID: id, Dim: k.Dim, Median: k.Nominal}
}

// bound keeps the search within the prior's reach and within what the models
// accept.
func (u *unknown) bound() {
	u.lo, u.hi = -wide, wide
	k, known := system.LookupParam(u.id)
	if !known {
		return
	}
	if u.log {
		u.lo, u.hi = max(u.lo, math.Log(max(k.Lo, 1e-12)/u.centre)/u.sd), min(u.hi, math.Log(k.Hi/u.centre)/u.sd)
		return
	}
	u.lo, u.hi = max(u.lo, (k.Lo-u.centre)/u.sd), min(u.hi, (k.Hi-u.centre)/u.sd)
}

// at is the figure z standard deviations from its prior's middle.
func (u *unknown) at(z float64) float64 {
	if u.log {
		return u.centre * math.Exp(u.sd*z)
	}
	return u.centre + u.sd*z
}

// diode of the template: no manual gives one.
func diode(t *system.System) machine.Diode {
	return machine.Diode{Saturation: t.Machine.DiodeSaturation, Emission: t.Machine.DiodeEmission, Ohms: t.Machine.DiodeOhms}
}
