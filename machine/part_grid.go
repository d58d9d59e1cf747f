package machine

import (
	"fmt"
	"math"
)

// end is the pattern that a growing one ends at.
func (p Pattern) end() Pattern {
	if p == DiodeLeak {
		return DiodeShort
	}
	return PhaseOpen
}

// halfGrown is the resistance, in reactances of a phase, at which a growing
// pattern counts as half grown, and the power with which it does: a leak works over
// four decades, from where it takes the diode's place down to nothing.
func (p Pattern) halfGrown() (half, power float64) {
	if p == DiodeLeak {
		return 0.5, 0.5
	}
	return 1, 1
}

// grown is how far a resistance has taken the pattern, 0 sound to 1 the end, with
// its derivatives by the resistance and by the reactance of a phase: what counts is
// the one against the other.
func (p Pattern) grown(ohms, reactance float64) (s, byOhms, byReactance float64) {
	half, power := p.halfGrown()
	if ohms > 0 {
		q := math.Pow(ohms/(half*reactance), power)
		s = q / (1 + q)
		slope := power * s / (1 + q)
		byOhms, byReactance = slope/ohms, -slope/reactance
	}
	if p == DiodeLeak {
		return 1 - s, -byOhms, -byReactance
	}
	return s, byOhms, byReactance
}

// ohmsAt is the resistance at which a pattern has grown to s, where a reactance is
// 1 Ohm.
func (p Pattern) ohmsAt(s float64) float64 {
	half, power := p.halfGrown()
	if p == DiodeLeak {
		s = 1 - s
	}
	return half * math.Pow(s/(1-s), 1/power)
}

// ChangesAt is Changes for any pattern. ohms is the resistance of one that grows.
func (p Pattern) ChangesAt(short, ohms float64) Bridge {
	switch p {
	case PhaseJoint:
		return Bridge{PhaseOhms: [3]float64{ohms}}
	case DiodeLeak:
		if ohms <= 1/short {
			return DiodeShort.Changes(short)
		}
		return Bridge{Across: [6]float64{1 / ohms}}
	}
	return p.Changes(short)
}

// PartGrid is where the tables of growing patterns have their points: u and ln y
// as GridOf's, and PartSteps of how far the fault has grown, ends included. They
// hold what is left when the mean of the two ends by that share is taken off, so
// that the ends are the ends' own tables.
var PartGrid = Grid{
	U: [2]float64{0.1, 1.825}, NU: 26, Y: [2]float64{0.03, 1.2}, NY: 9,
	Knees: []float64{0.32}, Drops: []float64{0.054}, RefAmps: refAmps, Steps: 361, Periodic: periodicTo,
}

// PartSteps is how many steps a pattern's table has between sound and grown, ends
// included.
func PartSteps(p Pattern) int {
	if p == DiodeLeak {
		return 21
	}
	return 9
}

// PartPoint solves one point of a growing pattern's table at every step between
// its ends: outputs times wL/E, less the mean of the ends.
func PartPoint(p Pattern, u, y float64) ([][NumOutputs]float64, error) {
	g := &PartGrid
	knee, drop := g.Knees[0], g.Drops[0]
	solve := func(b Bridge) (out [NumOutputs]float64, err error) {
		c := tablePoint(u, y, knee, drop, g.Steps)
		c.Bridge = b
		s, err := steady(c, u*drop/dropPerSlope)
		return s.Out, err
	}
	sound, err := solve(Bridge{})
	if err != nil {
		return nil, err
	}
	end, err := solve(p.end().Changes(1 / shortPerReactance))
	if err != nil {
		return nil, err
	}
	var out [][NumOutputs]float64
	for k, last := 1, PartSteps(p)-1; k < last; k++ {
		s := float64(k) / float64(last)
		x, err := solve(p.ChangesAt(1/shortPerReactance, p.ohmsAt(s)))
		if err != nil {
			return nil, fmt.Errorf("grown %g: %w", s, err)
		}
		for o := range x {
			x[o] -= (1-s)*sound[o] + s*end[o]
		}
		out = append(out, x)
	}
	return out, nil
}

// tablePoint is a sound star at the point of a table: E 1 V, wL 1 Ohm, the
// resistance of the diode part of y.
func tablePoint(u, y, knee, drop float64, steps int) OperatingPoint {
	c := OperatingPoint{EMF: 1, Omega: 1, Henries: 1, Ohms: y * (1 - foldedOhms), Volts: u * (1 - 2*drop), Steps: steps}
	c.Diode.Saturation = knee * u / math.Expm1(dropPerSlope)
	c.Diode.Ohms = y * foldedOhms
	return c
}
