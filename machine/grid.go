package machine

import "math"

// Grid is where a table has its points: evenly spaced in u = V_o'/E and in
// ln y with y = R/(w L), on planes of a knee and a drop coordinate.
type Grid struct {
	U, Y     [2]float64 // ends
	NU, NY   int
	Knees    []float64 // planes of i_ref = 10 A * w L / V_o', evenly spaced in its logarithm
	Drops    []float64 // planes of delta = V_d(10 A) / V_o', evenly spaced in its logarithm
	RefAmps  float64   // the 10 A above [A]
	Steps    int       // of the solver
	Periodic float64   // of the solver: how well currents repeat
}

// refAmps is the current at which the diode drop in V_o' is taken [A].
const refAmps = 10

// dropPerSlope is V_d(10 A)/(n V_T) of the diode behind the tables: it ties the
// width of the knee to the drop. PressFit has 21.4.
var dropPerSlope = math.Log1p(refAmps / PressFit.Saturation)

// GridOf returns the grid of a pattern's table. It ends in u just past cut-in:
// sqrt(3) and the knee's width, or sqrt(3)/(1 - delta) where a diode is bypassed
// and only one drop stands in the way. The planes span idle to top
// speed (knee) and, where a diode is bypassed, 24 V down to a 12 V system held
// at 7 V (drop); elsewhere the drop counts only in V_o'.
func GridOf(p Pattern) Grid {
	g := Grid{
		U: [2]float64{0.1, 1.825}, NU: 26,
		Y: [2]float64{0.03, 1.2}, NY: 13,
		Knees:   []float64{0.08, 0.32, 1.28},
		Drops:   []float64{0.054},
		RefAmps: refAmps, Steps: 361, Periodic: periodicTo,
	}
	if p.shorted() {
		g.Drops = []float64{0.03, 0.055, 0.1}
		g.U[1], g.NU = 1.963, 28
	}
	return g
}

// Point returns u and y of a grid point.
func (g *Grid) Point(iu, iy int) (u, y float64) {
	u = g.U[0] + (g.U[1]-g.U[0])*float64(iu)/float64(g.NU-1)
	t := float64(iy) / float64(g.NY-1)
	return u, g.Y[0] * math.Pow(g.Y[1]/g.Y[0], t)
}

// foldedOhms is the share of the table's y that is diode resistance. Where no
// path bypasses a diode, phase current always runs through one: resistance may
// stand on either side. In shorted patterns it is not part of y but comes on top.
const foldedOhms = 0.05

// TablePoint solves one point of a pattern's table: the outputs times w L / E.
func TablePoint(p Pattern, u, y, knee, drop float64, steps int) ([NumOutputs]float64, error) {
	// E = 1 V, w L = 1 Ohm: amperes are the table's numbers.
	nvt := u * drop / dropPerSlope
	c := OperatingPoint{
		EMF: 1, Omega: 1, Henries: 1, Ohms: y * (1 - foldedOhms),
		Volts: u * (1 - 2*drop),
		Diode: Diode{
			Saturation: knee * u / math.Expm1(dropPerSlope),
			Ohms:       y * foldedOhms,
		},
		Bridge: p.Changes(1 / shortPerReactance),
		Steps:  steps,
	}
	if p.shorted() {
		c.Ohms = y
	}
	s, err := steady(c, nvt)
	for o := range NumOutputs {
		if p.absent(o) {
			s.Out[o] = 0
		}
	}
	return s.Out, err
}

// absent says that an output is zero by symmetry: a sound bridge repeats six
// times a period, one that works on two phases only twice [closed form].
func (p Pattern) absent(o Output) bool {
	switch p {
	case Healthy:
		return o >= Order1 && o <= Order4
	case PhaseOpen, PhaseShort:
		return o == Order1 || o == Order3
	}
	return false
}

// shortPerReactance is the resistance of a short in the tables, as a share of
// w L: about a milliohm.
const shortPerReactance = 0.002
