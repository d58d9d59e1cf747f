package machine

import "math"

// DPlusOutput is one of the figures a D+ table holds.
type DPlusOutput int

// The outputs of a D+ table. D+ is a voltage behind a resistance: a held current
// c drawn there (in E/wL) moves its mean voltage and the output current in a
// straight line as far as fields go.
const (
	// DPlusLevel is the mean D+ voltage without current and before the drops of a
	// field diode and of the main diode on the way back, as a share of E; where the
	// pattern ties D+ to the output, what it is above the output voltage, in drops
	// of a main diode.
	DPlusLevel DPlusOutput = iota
	DPlusSlope             // how D+ falls with c [wL]
	DPlusShare             // how much of c is missing at the output [1]
	NumDPlusOutputs
)

var dplusNames = [NumDPlusOutputs]string{"level", "slope", "share"}

// String returns the output's name in a table's header.
func (o DPlusOutput) String() string { return dplusNames[o] }

// DPlusGrid is where the D+ tables have their points: evenly spaced in u =
// V_o'/E and in ln y, y = R/wL. Above the last u the output is cut off and D+
// depends on u no more.
var DPlusGrid = Grid{
	U: [2]float64{0.1, 1.9}, NU: 37,
	Y: [2]float64{0.03, 1.2}, NY: 9,
	Drops: []float64{dplusDrop}, Steps: 361, Periodic: periodicTo,
}

// The diodes of these tables have a constant drop, all but: dplusDrop of V_o'
// (0.83 V of 15 V) and a width of a two-hundredth of it. What a real diode does
// stands in the device.
const (
	dplusDrop  = 0.054
	dplusSharp = 200
)

// The currents at D+ between which the tables' straight line runs [E/wL]: 0.1 A
// and 2.4 A of a 40 A machine.
const (
	dplusLittle = 0.002
	dplusMuch   = 0.05
)

// fieldShortRatio is the drop of a field diode that carries a main diode's
// current, in drops of a main diode: so much flows where one of them is shorted.
const fieldShortRatio = 1.4

// DPlusPoint solves one point of a pattern's D+ table.
func DPlusPoint(p NinePattern, u, y float64, steps int) (out [NumDPlusOutputs]float64, err error) {
	drop := dplusDrop * u
	nvt := drop / dplusSharp
	d := Diode{Saturation: dplusMuch / math.Expm1(dplusSharp), Emission: nvt / thermalVolts, Ohms: 1e-4}
	b := Build{EMF: 1, Omega: 1, Henries: 1, Ohms: y, Volts: u - 2*drop, Diode: d, Steps: steps}
	for _, e := range p.Elements() {
		if err := b.Changes.Apply(e); err != nil {
			return out, err
		}
	}
	// Shorts of a milliohm mean nothing where wL is 1 Ohm.
	b.Changes.sharpen(1 / shortPerReactance)
	var volts, amps [2]float64
	for k, c := range []float64{dplusLittle, dplusMuch} {
		b.Field = &FieldSide{Diode: d, Amps: c}
		if p.direct() {
			b.Field.Diode.Emission *= fieldShortRatio
		}
		s, err := Run(b)
		if err != nil {
			return out, err
		}
		volts[k], amps[k] = s.DPlusVolts.Mean, s.Stud.Mean
		if !p.direct() {
			volts[k] += d.Drop(c)
		}
	}
	out[DPlusSlope] = (volts[0] - volts[1]) / (dplusMuch - dplusLittle)
	out[DPlusShare] = (amps[0] - amps[1]) / (dplusMuch - dplusLittle)
	level := volts[0] + out[DPlusSlope]*dplusLittle
	switch {
	case p.tied():
		out[DPlusLevel] = (level - b.Volts) / drop
	case p.earthed():
		out[DPlusLevel] = level
	default:
		out[DPlusLevel] = level + drop
	}
	return out, nil
}

// sharpen gives every short the conductance g [S].
func (c *Changes) sharpen(g float64) {
	for _, list := range [][]float64{c.Between[:], c.Earth[:]} {
		for k := range list {
			if list[k] > 0 {
				list[k] = g
			}
		}
	}
	for _, list := range [][]Change{c.Main[:], c.Field[:]} {
		for k := range list {
			if list[k].Across > 0 {
				list[k].Across = g
			}
		}
	}
}
