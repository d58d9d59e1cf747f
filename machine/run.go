package machine

import (
	"fmt"
	"math"
)

// Run returns the periodic state of a build; with EMF 0 the state in which it
// stands. The error joins everything that is wrong with the build, or says that
// the currents did not repeat.
//
// It integrates as SteadyState does, on a mesh that knows delta windings, diodes
// at the star point and field diodes. SteadyState makes the tables and stays as
// it is; a test holds the two against each other.
func Run(c Build) (*Periodic, error) {
	if err := c.check(); err != nil {
		return nil, &unfit{err}
	}
	if c.Steps == 0 {
		c.Steps = DefaultSteps
	}
	r := newRunner(&c)
	if c.EMF == 0 {
		return r.standing()
	}
	start := r.guess()
	var end [3]float64
	var search chord
	for n := 1; n <= maxPeriods; n++ {
		if err := r.period(&start, &end); err != nil {
			return nil, fmt.Errorf("machine: %g V EMF at %g rad/s against %g V: %w", c.EMF, c.Omega, c.Volts, err)
		}
		miss := 0.0
		for k := range 3 {
			miss = max(miss, math.Abs(end[k]-start[k]))
		}
		// The first period's integrals begin with what was never integrated.
		if miss < periodicTo*r.scale && n > 1 {
			return r.summary(n), nil
		}
		start = search.next(&start, &end, miss, &r.sens)
	}
	return nil, fmt.Errorf("machine: winding currents did not repeat within %d periods: raise Steps above %d", maxPeriods, c.Steps)
}

// standing solves the direct currents of a machine that does not turn.
func (r *runner) standing() (*Periodic, error) {
	r.w = r.m.windings(r.c, 0)
	var none, i [3]float64
	if err := r.stage(&none, &none, &i); err != nil {
		return nil, fmt.Errorf("machine: standing against %g V: %w", r.c.Volts, err)
	}
	r.wave = []signals{r.signals(&i)}
	r.sum.start(&r.wave[0])
	r.sum.add(&r.wave[0], 1)
	return r.summary(0), nil
}

// period integrates one period from the winding currents start to end, with the
// sensitivity of end to start, and keeps what a Periodic needs.
func (r *runner) period(start, end *[3]float64) error {
	i := *start
	r.sens = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	last := r.wave[len(r.wave)-1]
	r.sum.start(&last)
	for s := range r.emf {
		if err := r.step(float64(s), 0, &i); err != nil {
			return err
		}
		r.wave[s] = r.signals(&i)
	}
	*end = i
	return nil
}

// step takes the winding currents i from the time at [whole steps] over a step
// halved level times. It halves on where bridgeSolver.step would.
func (r *runner) step(at float64, level int, i *[3]float64) error {
	const ahead = (1 - gamma) / gamma
	i0, v0, s0 := *i, r.v, r.sens
	width := 1 / float64(int(1)<<level)
	var e [2][3]float64
	if level == 0 {
		e = r.emf[int(at)]
	} else {
		e = [2][3]float64{r.emfs(at + gamma*width), r.emfs(at + width)}
	}
	r.w = r.width[level]
	first := i0
	if err := r.stage(&e[0], &i0, &first); err != nil {
		return err
	}
	var a [3]float64
	for k := range 3 {
		a[k] = i0[k] + ahead*(first[k]-i0[k])
		for j := range 3 {
			r.sens[k][j] = s0[k][j] + ahead*(r.sens[k][j]-s0[k][j])
		}
	}
	if err := r.stage(&e[1], &a, i); err != nil {
		return err
	}
	on := r.conducting()
	smooth := on == r.on
	var slope [3]float64
	for k := range 3 {
		slope[k] = (i[k] - a[k]) / (gamma * width)
		early := (first[k]-i0[k])/(gamma*width) - r.slope[k]
		all := slope[k] - r.slope[k]
		smooth = smooth && math.Abs(all) < slopeStep*r.unit &&
			math.Abs((all-early)/(1-gamma)-early/gamma) < slopeBend*r.unit
	}
	if !smooth && level < maxLevel {
		*i, r.v, r.sens = i0, v0, s0
		if err := r.step(at, level+1, i); err != nil {
			return err
		}
		return r.step(at+width/2, level+1, i)
	}
	r.slope, r.on = slope, on
	x := r.signals(i)
	r.sum.add(&x, width/float64(r.c.Steps))
	return nil
}

// conducting returns the diodes that carry more than a trace of current.
func (r *runner) conducting() (on uint16) {
	for k := range r.m.diodes {
		if r.amps[k] > 1e-4*r.scale {
			on |= 1 << k
		}
	}
	return on
}

// guess returns winding currents to start from: those of a sine current against
// the fundamental of the bridge's six-step voltage, as bridgeSolver has them.
// A delta counts as the star that looks the same from outside.
func (r *runner) guess() (i [3]float64) {
	c := r.c
	e, ohms, henries, turn := c.EMF, c.Ohms, c.Henries, 1.0
	if c.Winding == Delta {
		e, ohms, henries, turn = e/math.Sqrt(3), ohms/3, henries/3, 1/math.Sqrt(3)
	}
	v, x := 2*c.Volts/math.Pi, c.Omega*henries
	z2 := ohms*ohms + x*x
	root := e*e*z2 - v*v*x*x
	if root <= 0 || e <= v || c.Changes != (Changes{}) {
		return i
	}
	amps := (-v*ohms + math.Sqrt(root)) / z2
	lag := math.Atan2(x*amps, v+ohms*amps)
	for k := range i {
		i[k] = turn * amps * math.Sin(-lag-2*math.Pi/3*float64(k))
	}
	return i
}
