package machine

import (
	"errors"
	"math"
)

// Unknowns of one stage, in the order of elimination.
const (
	nodeNeutral = 3
	nodeDC      = 4
	maxNodes    = 5
)

// gamma of the two-stage, L-stable, second-order diagonally implicit
// Runge-Kutta method [closed form: Alexander, SIAM J. Numer. Anal. 14 (1977)].
// One-step, so that a period is a map of the phase currents alone; L-stable,
// because a diode that blocks leaves a winding with no current to ring in.
const gamma = 1 - math.Sqrt2/2

// A step in which a diode starts or stops conducting is halved, and its halves
// again, this many times: commutation is where a fixed step loses accuracy.
const maxLevel = 9

// Either of two signs in the slope of a phase current, as shares of E/L, gives
// such a step away: the slope changes by more than slopeStep (a smooth current:
// 0.03 in a step of 361; a commutation: V_o'/3E or more), or its change in the
// second part of the step departs from that in the first by more than slopeBend
// (smooth: 0.0003). A third sign is a diode's current coming or going.
const (
	slopeStep = 0.05
	slopeBend = 0.01
)

// bridgeSolver integrates winding and bridge over a period.
type bridgeSolver struct {
	c     *OperatingPoint
	n     int // nodes: 4, or 5 with a source resistance
	diode junction
	// EMF at the two stages of each whole step [V].
	emf [][2][3]float64
	// Stage of a step halved level times: i = q a + g (e + vn - v).
	q, g   [maxLevel + 1][3]float64
	level  int
	v      [maxNodes]float64
	m      [maxNodes][maxNodes]float64 // factors of the last Newton matrix
	up     [3]float64                  // currents into the DC node [A]
	down   [3]float64                  // currents from the case [A]
	sens   [3][2]float64               // d(phase currents)/d(start currents A, B)
	slope  [3]float64                  // of the phase currents [A a whole step]
	on     uint8                       // diodes that conduct
	wave   []float64
	low    float64 // least and greatest output current of the period [A]
	high   float64
	sumSq  [3]float64
	peak   [3]float64
	source float64 // conductance [S], 0 when Volts is held stiffly
	scale  float64 // short-circuit phase current [A]
	unit   float64 // of slope: E/L [A a whole step]
}

// blockLeak is the conductance of a blocking diode [S]; it fixes the winding's
// potential while nothing conducts. 15 V drive 0.15 uA: no output of interest.
const blockLeak = 1e-8

func newBridgeSolver(c *OperatingPoint, nvt float64) *bridgeSolver {
	b := &bridgeSolver{c: c, n: 4, scale: c.EMF / (c.Omega * c.Henries)}
	b.diode = newJunction(c.Diode.Saturation, nvt, c.Diode.Ohms, blockLeak)
	if c.SourceOhms > 0 {
		b.n, b.source = 5, 1/c.SourceOhms
	}
	h := 2 * math.Pi / (c.Omega * float64(c.Steps))
	b.unit = c.EMF / c.Henries * h
	for level := range b.q {
		for k := range 3 {
			if c.Bridge.PhaseOpen[k] {
				continue
			}
			r := c.Ohms + c.Bridge.PhaseOhms[k]
			b.q[level][k] = 1 / (1 + gamma*h*r/c.Henries)
			b.g[level][k] = gamma * h / c.Henries * b.q[level][k]
		}
		h /= 2
	}
	b.emf = make([][2][3]float64, c.Steps)
	for s := range b.emf {
		b.emf[s] = [2][3]float64{b.emfs(float64(s) + gamma), b.emfs(float64(s) + 1)}
	}
	b.wave = make([]float64, c.Steps)
	b.v[nodeDC] = c.Volts
	for k := range 4 {
		b.v[k] = c.Volts / 2
	}
	return b
}

// emfs returns the three EMFs [V] at a time in whole steps.
func (b *bridgeSolver) emfs(at float64) (e [3]float64) {
	theta := 2 * math.Pi * at / float64(b.c.Steps)
	for k := range e {
		e[k] = b.c.emf(theta - 2*math.Pi/3*float64(k))
	}
	return e
}

func (c *OperatingPoint) emf(theta float64) float64 {
	e := math.Sin(theta)
	if c.Third != 0 {
		e += c.Third * math.Sin(3*theta)
	}
	if c.Fifth != 0 {
		e += c.Fifth * math.Sin(5*theta)
	}
	return c.EMF * e
}

// period integrates one period from the phase currents start to end, with the
// sensitivity of end to start, and keeps the output current's samples.
func (b *bridgeSolver) period(start, end *[3]float64) error {
	i := *start
	b.sens = [3][2]float64{{1, 0}, {0, 1}, {-1, -1}}
	b.sumSq, b.peak = [3]float64{}, [3]float64{}
	b.low, b.high = math.Inf(1), math.Inf(-1)
	for s := range b.emf {
		if err := b.step(float64(s), 0, &i); err != nil {
			return err
		}
		b.wave[s] = b.output()
		for k := range 3 {
			b.sumSq[k] += i[k] * i[k]
			b.peak[k] = max(b.peak[k], math.Abs(i[k]))
		}
	}
	*end = i
	return nil
}

// step takes the phase currents i from the time at [whole steps] over a step
// halved level times.
func (b *bridgeSolver) step(at float64, level int, i *[3]float64) error {
	const ahead = (1 - gamma) / gamma
	i0, v0, s0 := *i, b.v, b.sens
	width := 1 / float64(int(1)<<level)
	var e [2][3]float64
	if level == 0 {
		e = b.emf[int(at)]
	} else {
		e = [2][3]float64{b.emfs(at + gamma*width), b.emfs(at + width)}
	}
	b.level = level
	first := i0
	if err := b.stage(&e[0], &i0, &first); err != nil {
		return err
	}
	var a [3]float64
	for k := range 3 {
		a[k] = i0[k] + ahead*(first[k]-i0[k])
		for j := range 2 {
			b.sens[k][j] = s0[k][j] + ahead*(b.sens[k][j]-s0[k][j])
		}
	}
	if err := b.stage(&e[1], &a, i); err != nil {
		return err
	}
	on := b.conducting()
	smooth := on == b.on
	var slope [3]float64
	for k := range 3 {
		slope[k] = (i[k] - a[k]) / (gamma * width)
		early := (first[k]-i0[k])/(gamma*width) - b.slope[k]
		all := slope[k] - b.slope[k]
		smooth = smooth && math.Abs(all) < slopeStep*b.unit &&
			math.Abs((all-early)/(1-gamma)-early/gamma) < slopeBend*b.unit
	}
	if !smooth && level < maxLevel {
		*i, b.v, b.sens = i0, v0, s0
		if err := b.step(at, level+1, i); err != nil {
			return err
		}
		return b.step(at+width/2, level+1, i)
	}
	b.slope, b.on = slope, on
	x := b.output()
	b.low, b.high = min(b.low, x), max(b.high, x)
	return nil
}

// conducting returns the diodes that carry more than a trace of current.
func (b *bridgeSolver) conducting() (on uint8) {
	for k := range 3 {
		if b.up[k] > 1e-4*b.scale {
			on |= 1 << k
		}
		if b.down[k] > 1e-4*b.scale {
			on |= 8 << k
		}
	}
	return on
}

// output returns the current out of the output terminal [A].
func (b *bridgeSolver) output() float64 { return b.up[0] + b.up[1] + b.up[2] }

var errNewton = errors.New("bridge voltages did not settle: raise Steps")

// stage solves one implicit stage: currents i from the stage's base a, and
// carries the sensitivities along. It stops when the node voltages stand still,
// or when the node currents balance to rounding (a winding that nothing but
// leakage holds has no voltage worth more).
func (b *bridgeSolver) stage(e, a, i *[3]float64) error {
	// Rounding of a node voltage alone moves a diode's current by eps V/r.
	tight, balanced := 1e-7*b.diode.nvt, 1e-12*b.scale+4e-16*b.c.EMF/b.diode.r
	for range 100 {
		f := b.residual(e, a, i)
		worst, step := 0.0, 0.0
		for k := range b.n {
			worst = max(worst, math.Abs(f[k]))
		}
		if worst < balanced {
			b.carry()
			return nil
		}
		b.factor()
		b.solve(&f)
		for k := range b.n {
			b.v[k] -= f[k]
			step = max(step, math.Abs(f[k]))
		}
		if step < tight {
			b.residual(e, a, i)
			b.carry()
			return nil
		}
	}
	return errNewton
}

// residual returns the node equations at b.v, and leaves the Newton matrix in
// b.m and the phase currents in i.
func (b *bridgeSolver) residual(e, a, i *[3]float64) (f [maxNodes]float64) {
	br, m := &b.c.Bridge, &b.m
	vn, vdc := b.v[nodeNeutral], b.v[nodeDC]
	*m = [maxNodes][maxNodes]float64{}
	f[nodeNeutral], m[nodeNeutral][nodeNeutral] = blockLeak*vn, blockLeak
	for k := range 3 {
		v, g := b.v[k], b.g[b.level][k]
		i[k] = b.q[b.level][k]*a[k] + g*(e[k]+vn-v)
		up, gu := b.leg(k, v-vdc)
		down, gd := b.leg(k+3, -v)
		earth := br.Earth[k] + blockLeak
		f[k] = -i[k] + up - down + earth*v
		f[nodeNeutral] += i[k]
		f[nodeDC] -= up
		m[k][k] = g + gu + gd + earth
		m[nodeNeutral][k] = -g
		m[nodeNeutral][nodeNeutral] += g
		m[nodeDC][k] = -gu
		m[nodeDC][nodeDC] += gu
		b.up[k], b.down[k] = up, down
	}
	if br.Between != 0 {
		x := br.Between * (b.v[0] - b.v[1])
		f[0], f[1] = f[0]+x, f[1]-x
		m[0][0] += br.Between
		m[1][1] += br.Between
		m[1][0] -= br.Between
	}
	f[nodeDC] += b.source * (vdc - b.c.Volts)
	m[nodeDC][nodeDC] += b.source
	return f
}

// leg returns current [A] and slope [S] of one diode's place at v [V].
func (b *bridgeSolver) leg(k int, v float64) (i, g float64) {
	g = b.c.Bridge.Across[k]
	i = g * v
	if !b.c.Bridge.Open[k] {
		x, s := b.diode.at(v)
		i, g = i+x, g+s
	}
	return i, g
}

// factor does the L D L' factorisation of the symmetric matrix's lower half in
// place. A nodal conductance matrix is positive definite: no pivoting.
func (b *bridgeSolver) factor() {
	m := &b.m
	for j := range b.n {
		d := m[j][j]
		for i := j + 1; i < b.n; i++ {
			l := m[i][j] / d
			if l == 0 {
				continue
			}
			for k := j + 1; k <= i; k++ {
				m[i][k] -= l * m[k][j]
			}
			m[j][i] = l // upper half keeps L'
		}
	}
}

// solve replaces f by the solution of the factored system.
func (b *bridgeSolver) solve(f *[maxNodes]float64) {
	m := &b.m
	for j := range b.n {
		for i := j + 1; i < b.n; i++ {
			f[i] -= m[j][i] * f[j]
		}
	}
	for j := b.n - 1; j >= 0; j-- {
		f[j] /= m[j][j]
		for i := j + 1; i < b.n; i++ {
			f[j] -= m[j][i] * f[i]
		}
	}
}

// carry takes the sensitivities of the phase currents through the stage just
// solved: d(base) on entry, d(stage currents) on return.
func (b *bridgeSolver) carry() {
	b.factor()
	for j := range 2 {
		var f [maxNodes]float64
		for k := range 3 {
			x := b.q[b.level][k] * b.sens[k][j]
			f[k] += x
			f[nodeNeutral] -= x
		}
		b.solve(&f)
		for k := range 3 {
			b.sens[k][j] = b.q[b.level][k]*b.sens[k][j] + b.g[b.level][k]*(f[nodeNeutral]-f[k])
		}
	}
}

// guess returns phase currents to start from: those of a sine current against
// the fundamental of the bridge's six-step voltage, 2 V/pi, in phase with it.
func (b *bridgeSolver) guess() (i [3]float64) {
	c := b.c
	v, x := 2*c.Volts/math.Pi, c.Omega*c.Henries
	z2 := c.Ohms*c.Ohms + x*x
	root := c.EMF*c.EMF*z2 - v*v*x*x
	if root <= 0 || c.EMF <= v {
		return i
	}
	amps := (-v*c.Ohms + math.Sqrt(root)) / z2
	lag := math.Atan2(x*amps, v+c.Ohms*amps)
	if c.Bridge.PhaseOpen != [3]bool{} {
		return i
	}
	for k := range i {
		i[k] = amps * math.Sin(-lag-2*math.Pi/3*float64(k))
	}
	return i
}

// summary reduces the last period to the figures of a Steady.
func (b *bridgeSolver) summary(periods int) Steady {
	s := Steady{Periods: periods}
	n := len(b.wave)
	sum := 0.0
	for _, x := range b.wave {
		sum += x
	}
	mean := sum / float64(n)
	sq := 0.0
	for _, x := range b.wave {
		sq += (x - mean) * (x - mean)
	}
	s.Out[Mean], s.Out[PeakToPeak] = mean, b.high-b.low
	s.Out[ACRms] = math.Sqrt(sq / float64(n))
	for o, order := range orders {
		re, im := component(b.wave, order)
		s.Out[int(Order1)+o] = math.Hypot(re, im)
		if o < 2 {
			s.Phase[o] = math.Atan2(-im, re)
		}
	}
	for k := range 3 {
		s.RMS[k] = math.Sqrt(b.sumSq[k] / float64(n))
	}
	s.Peak = b.peak
	if b.c.Wave {
		s.Wave = b.wave
	}
	return s
}

// component returns the cosine and sine parts of an order of one period whose
// sample k stands at theta = 2 pi (k+1)/n.
func component(wave []float64, order int) (re, im float64) {
	n := len(wave)
	for k, x := range wave {
		s, c := math.Sincos(2 * math.Pi * float64(order*(k+1)%n) / float64(n))
		re += x * c
		im += x * s
	}
	return 2 * re / float64(n), 2 * im / float64(n)
}
