package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"chargewright/system"
)

// template is the shipped system that tests start from.
func template(t testing.TB) *system.System {
	t.Helper()
	s, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// car is a machine with known figures and a way to predict what a manual would
// say of it.
type car struct {
	t   testing.TB
	p   plant
	v   values
	rng *rand.Rand // nil: no noise
	// reckoned: noise as wide as the fit takes it; else a printed figure, which
	// lies within its tolerance.
	reckoned bool
	slow     bool // by the time-domain solver, not by the tables
	lines    strings.Builder
	section  string
}

// newCar is the template's machine with some figures multiplied.
func newCar(t testing.TB, times map[int]float64) *car {
	t.Helper()
	c := carOf(t, template(t))
	for slot, k := range times {
		c.v[slot] *= k
	}
	return c
}

// carOf is a system's own machine.
func carOf(t testing.TB, sys *system.System) *car {
	t.Helper()
	s, err := newSolver(&Figures{Template: sys})
	if err != nil {
		t.Fatal(err)
	}
	return &car{t: t, p: s.p, v: s.base}
}

// value is a figure as the manual prints it: the model's, with noise inside the
// tolerance.
func (c *car) value(f *Figure, tolerance float64) float64 {
	v := c.p.predict(&c.v, f)
	if c.slow {
		v = c.timeDomain(f)
	}
	switch {
	case c.rng == nil:
	case c.reckoned:
		v *= 1 + math.Hypot(tolerance/2, modelShare[f.Kind])*c.rng.NormFloat64()
	default:
		z := 2.0
		for math.Abs(z) > 1 {
			z = 0.4 * c.rng.NormFloat64()
		}
		v *= 1 + tolerance*z
	}
	return v
}

// timeDomain is the slow oracle: currents of winding and diodes integrated until
// they repeat. Cut-in is where it gives the figure's amps.
func (c *car) timeDomain(f *Figure) float64 {
	at := func(f *Figure) float64 {
		amps, err := c.p.timeDomain(&c.v, f)
		if err != nil {
			c.t.Fatal(err)
		}
		return amps
	}
	switch f.Kind {
	case Output:
		return at(f)
	case CutIn:
		g := *f
		g.Kind = Output
		lo, hi := 500*rpm, 4000*rpm
		if f.Engine {
			lo, hi = 200*rpm, 2000*rpm
		}
		for range 14 { // to 0.2 rpm
			g.Speed = (lo + hi) / 2
			if at(&g) < f.Amps {
				lo = g.Speed
			} else {
				hi = g.Speed
			}
		}
		return (lo + hi) / 2
	}
	return c.p.predict(&c.v, f)
}

// say adds a figure to the file.
func (c *car) say(section, format string, args ...any) {
	if c.section != section {
		c.lines.WriteString(section + ":\n")
		c.section = section
	}
	fmt.Fprintf(&c.lines, "  - {"+format+", page: \"1\"}\n", args...)
}

func (c *car) output(volts, speed, tolerance float64, engine bool) {
	f := &Figure{Kind: Output, Volts: volts, Speed: speed * rpm, Engine: engine, Kelvin: Cold}
	who := "alternator"
	if engine {
		who = "engine"
	}
	c.say("outputs", "amps: %.6g A, tolerance: %g %%, volts: %g V, %s: %g rpm, windings: cold", c.value(f, tolerance), 100*tolerance, volts, who, speed)
}

func (c *car) cutIn(volts, tolerance float64) {
	f := &Figure{Kind: CutIn, Volts: volts, Kelvin: Cold, Amps: cutInAmps}
	c.say("cut-in", "alternator: %.6g rpm, tolerance: %g %%, volts: %g V, windings: cold", c.value(f, tolerance)/rpm, 100*tolerance, volts)
}

func (c *car) field(volts, tolerance float64) {
	f := &Figure{Kind: FieldCurrent, Volts: volts, Kelvin: copperAt}
	c.say("field-current", "amps: %.6g A, tolerance: %g %%, volts: %g V, temperature: 20 degC", c.value(f, tolerance), 100*tolerance, volts)
}

func (c *car) ohms(kind Kind, tolerance float64) {
	f := &Figure{Kind: kind, Kelvin: copperAt}
	c.say(string(kind), "ohms: %.6g Ohm, tolerance: %g %%, temperature: 20 degC", c.value(f, tolerance), 100*tolerance)
}

// file is the figures file.
func (c *car) file() string {
	return `format: 1
template: isolated-earth-side
id: test-car
name: invented for a test
manual: invented manual
basis: invented
` + fmt.Sprintf("machine: {pole-pairs: %g, pulley-ratio: %g, page: \"1\"}\n", c.p.poles, c.p.pulley) + c.lines.String()
}

// parsed reads the file.
func (c *car) parsed() *Figures {
	c.t.Helper()
	x, err := Parse("figures.yaml", []byte(c.file()), system.ByID)
	if err != nil {
		c.t.Fatalf("%v\n%s", err, c.file())
	}
	return x
}

// usual are the figures of a manual that gives much: output against speed, cut-in,
// field current, rotor and stator.
func (c *car) usual(tolerance float64) {
	for _, speed := range []float64{1500, 2000, 3000, 6000} {
		c.output(14, speed, tolerance, false)
	}
	c.cutIn(13.5, tolerance)
	c.field(12, tolerance)
	c.ohms(Rotor, tolerance)
	c.ohms(Stator, tolerance)
}

// fitted runs the fit.
func (c *car) fitted() *Result {
	c.t.Helper()
	r, err := Run(c.parsed(), Options{Seed: 1, Starts: 4})
	if err != nil {
		c.t.Fatalf("%v\n%s", err, c.file())
	}
	return r
}

// unknown finds one of the result.
func (r *Result) unknown(t testing.TB, id string) *Known {
	t.Helper()
	for i := range r.Unknowns {
		if r.Unknowns[i].ID == id {
			return &r.Unknowns[i]
		}
	}
	t.Fatalf("no unknown %s", id)
	return nil
}
