package prediction

import (
	"fmt"
	"math"

	"chargewright/battery"
	"chargewright/circuit"
	"chargewright/machine"
	"chargewright/question"
)

// Probe is a compiled observable.
type Probe struct {
	kind       question.Kind
	red, black circuit.Node
	elem       int // for amps
	Obs        question.Observable
}

// Asked is a compiled question: the setup's conditions and its probes.
// Questions with the same Key share one operating point.
type Asked struct {
	Key    string
	cond   conditions
	Probes []Probe
	dead   bool // needs the passive network only
	sig    string
}

// Dead reports that the question is one of resistances with nothing live.
func (a *Asked) Dead() bool { return a.dead }

// Signature tells questions apart: setup and probes.
func (a *Asked) Signature() string { return a.sig }

// Ask compiles the measured observables of a question; looks are left out, in
// order. It refuses what cannot be read in that setup.
func (m *Model) Ask(q question.Question) (Asked, error) {
	a := Asked{cond: m.conditionsOf(q.Setup), dead: true}
	for _, o := range q.Seek {
		if o.Kind == question.Look || o.Kind == question.Speed {
			continue
		}
		p, err := m.probe(o, a.cond)
		if err != nil {
			return a, err
		}
		a.dead = a.dead && o.Kind == question.Ohms
		a.Probes = append(a.Probes, p)
	}
	a.Key = m.key(q.Setup)
	a.sig = a.Key
	for _, p := range a.Probes {
		a.sig += fmt.Sprintf("|%s %s %s %s %d", p.kind, p.Obs.Red, p.Obs.Black, p.Obs.Through, p.Obs.Cell)
	}
	return a, nil
}

func (m *Model) key(s question.Setup) string {
	return fmt.Sprintf("%x|%.6g|%v|%.5g|%.5g|%.5g|%v", uint64(s.Rig), s.Engine, s.Hold, s.Ambient.K, s.Battery.K, s.Reg.K, s.Hot)
}

func (m *Model) probe(o question.Observable, c conditions) (Probe, error) {
	p := Probe{kind: o.Kind, elem: -1, Obs: o}
	if o.Kind == question.Density {
		return p, nil
	}
	if o.Kind == question.Amps {
		i, ok := m.elemAt[o.Through]
		if !ok {
			return p, fmt.Errorf("amps through %q: the system has no such wire, joint or load", o.Through)
		}
		p.elem = i
		return p, nil
	}
	var ok bool
	if p.red, ok = m.main.Network().Find(o.Red); !ok {
		return p, fmt.Errorf("red lead at %q: the system has no such point", o.Red)
	}
	if p.black, ok = m.main.Network().Find(o.Black); !ok {
		return p, fmt.Errorf("black lead at %q: the system has no such point", o.Black)
	}
	switch o.Kind {
	case question.Volts, question.ACVolts:
	case question.Ohms:
		if c.omega > 0 {
			return p, fmt.Errorf("ohms between %s and %s with the engine running: the path is live; stop the engine and take the earth cable off first", o.Red, o.Black)
		}
		if !m.batteryCut(c) {
			return p, fmt.Errorf("ohms between %s and %s with the battery connected: the path is live; take the earth cable off first", o.Red, o.Black)
		}
	default:
		return p, fmt.Errorf("quantity %q: use volts, amps, ac-volts, ohms or density", o.Kind)
	}
	return p, nil
}

// batteryCut reports whether a position opens a joint at the battery.
func (m *Model) batteryCut(c conditions) bool {
	for _, s := range c.sets {
		if i, ok := m.elemAt[s.Element]; ok && s.Open {
			e := m.Sys.Elements[i]
			b := m.Sys.Battery
			if e.From == b.Negative || e.To == b.Negative || e.From == b.Positive || e.To == b.Positive {
				return true
			}
		}
	}
	return false
}

// warm is a solution to go on from; doubt says that a charging one was looked
// for in vain.
type warm struct {
	circuit.Warm
	doubt bool
}

// Worker is the memory of one goroutine's predictions.
type Worker struct {
	M       *Model
	main    *circuit.Solver
	passive *circuit.Solver
	a       assembly
	seed    []float64
	grad    []float64
	pgrad   []float64
	warm    map[string]*warm // last solution by setup, within one Begin
	start   []float64
	high    []float64 // a guess on the charging side
	dead    circuit.Warm
	nominal map[string]*circuit.Warm // the sound vehicle, by setup
	z       []float64
	h       Hypothesis
	comp    Component
	cond    conditions
	solved  float64   // rectifier ohms the passive factors stand for, 0 = none
	dx, dp  []float64 // of the ripple
}

// Borrow takes a worker out of the model's stock; give it back with Return. A
// worker keeps the sound vehicle's operating points, which are dear to find.
func (m *Model) Borrow() *Worker {
	m.mu.Lock()
	defer m.mu.Unlock()
	if n := len(m.stock); n > 0 {
		w := m.stock[n-1]
		m.stock = m.stock[:n-1]
		return w
	}
	return m.NewWorker()
}

// Return puts a worker back.
func (m *Model) Return(w *Worker) {
	m.mu.Lock()
	defer m.mu.Unlock()
	w.Begin()
	m.stock = append(m.stock, w)
}

// NewWorker makes the memory for one goroutine.
func (m *Model) NewWorker() *Worker {
	w := &Worker{M: m, main: m.main.NewSolver(), passive: m.passive.NewSolver(), warm: map[string]*warm{}, nominal: map[string]*circuit.Warm{}}
	w.a = assembly{
		p: make([]float64, m.main.Network().Params()), pp: make([]float64, m.passive.Network().Params()),
		elem: make([]number, len(m.elems)), scal: make([]number, len(m.scalars)),
	}
	w.seed = make([]float64, m.main.Unknowns())
	w.grad = make([]float64, len(w.a.p))
	w.pgrad = make([]float64, len(w.a.pp))
	w.dx, w.dp = make([]float64, 5), make([]float64, machine.NumParams)
	w.start = m.coldStart()
	w.high = make([]float64, len(w.start))
	for i, v := range w.start {
		w.high[i] = v * chargingGuess
	}
	w.high[m.own.field] = 4
	w.Begin()
	return w
}

// chargingGuess lifts the cold start from 12.5 V to 20 V: above the charging point, so
// that settling comes down to it.
const chargingGuess = 1.6

// coldStart guesses 12.5 V on every point that hangs on the positive side when
// everything is joined: closer than flat for any hook-up.
func (m *Model) coldStart() []float64 {
	x := make([]float64, m.main.Unknowns())
	high := map[string]bool{m.Sys.Battery.Positive: true}
	for changed := true; changed; {
		changed = false
		for _, e := range m.Sys.Elements {
			if e.Median > 0.1 {
				continue
			}
			if high[e.From] != high[e.To] {
				high[e.From], high[e.To], changed = true, true, true
			}
		}
	}
	for i, name := range m.main.Network().Names() {
		if high[name] && i > 0 {
			x[i-1] = m.Sys.Volts * 12.5 / 12
		}
	}
	return x
}

// CountRoots makes the solver label full-field points that hide other roots.
func (w *Worker) CountRoots() { w.main.CountRoots = true }

// Begin forgets warm starts, so that what follows does not depend on what was
// solved before.
func (w *Worker) Begin() {
	for k := range w.warm {
		delete(w.warm, k)
	}
	w.main.Forget()
}

// Hold sets the hypothesis and z for the following Solve calls.
func (w *Worker) Hold(h Hypothesis, comp Component, z []float64) { w.h, w.comp, w.z = h, comp, z }

// Solve finds the operating point of a question's setup.
func (w *Worker) Solve(a *Asked) error {
	w.cond = a.cond
	w.M.assemble(&w.a, w.h, w.comp, a.cond, w.z)
	w.solved = 0
	if a.dead {
		return nil
	}
	x, ok := w.warm[a.Key]
	if ok {
		w.main.Resume(&x.Warm)
	}
	if !ok {
		w.main.Resume(w.nominalAt(a))
	}
	if w.main.Solve(w.a.p) != nil {
		w.main.Forget()
		w.main.Start(w.start)
		if err := w.main.Solve(w.a.p); err != nil {
			return err
		}
	}
	doubt := w.doubtful()
	if doubt && (!ok || !x.doubt || w.alone()) {
		if err := w.upper(); err != nil {
			return err
		}
		doubt = w.doubtful()
	}
	if !ok {
		x = &warm{}
		w.warm[a.Key] = x
	}
	w.main.Save(&x.Warm)
	x.doubt = doubt
	return nil
}

// doubtful reports a running machine that does not charge behind a poor line, or
// that carries its loads without a battery: such a line can have several
// operating points.
func (w *Worker) doubtful() bool {
	return w.cond.omega > 0 && (w.alone() || w.linkDrop() >= weakLink || w.studVolts() <= lowShare*w.M.Sys.Volts)
}

func (w *Worker) alone() bool { return math.Abs(w.main.X[w.M.own.battery]) < aloneAmps }

// upper looks for a charging operating point where a doubtful one was found: a
// machine that was charging stays so when loads come on, and that is how the
// tests are done.
func (w *Worker) upper() error {
	stud, alone := w.studVolts(), w.alone()
	w.main.Save(&w.dead)
	w.main.Forget()
	w.main.Start(w.high)
	err := w.main.Settle(w.a.p)
	if err == nil && (alone || w.studVolts() > stud+samePoint) {
		return nil
	}
	w.main.Resume(&w.dead)
	return w.main.Solve(w.a.p)
}

// aloneAmps is the battery current [A] under which the machine carries its
// loads alone: such a line has several operating points, and the one that
// charging settles on is always looked for.
const aloneAmps = 0.02

// nominalAt is the sound vehicle's operating point in a setup, where every fit
// starts. It is the same whoever asks first.
func (w *Worker) nominalAt(a *Asked) *circuit.Warm {
	if n, ok := w.nominal[a.Key]; ok {
		return n
	}
	n := &circuit.Warm{}
	w.nominal[a.Key] = n
	keep := append([]float64(nil), w.a.p...)
	links := append([]link(nil), w.a.links...)
	plink := append([]link(nil), w.a.plink...)
	elem, scal, pp := append([]number(nil), w.a.elem...), append([]number(nil), w.a.scal...), append([]float64(nil), w.a.pp...)
	w.M.assemble(&w.a, Hypothesis{}, Component{}, a.cond, make([]float64, w.M.Dims()))
	w.main.Forget()
	w.main.Start(w.start)
	// Without a solution the cold start itself stands in.
	_ = w.main.Solve(w.a.p)
	w.main.Save(n)
	w.a.links, w.a.plink = links, plink
	copy(w.a.p, keep)
	copy(w.a.elem, elem)
	copy(w.a.scal, scal)
	copy(w.a.pp, pp)
	return n
}

// samePoint is the voltage [V] within which two operating points are one.
const samePoint = 1e-4

// weakLink is the drop from battery to stud [V] from which a machine that is
// dead may be so only because its field's supply sags behind a poor joint. A
// sound line drops under 0.4 V with all loads on.
const weakLink = 0.4

// lowShare is the stud voltage, in nominal volts, under which the same is looked
// for when no battery holds the line: 11.2 V on a 12 V vehicle.
const lowShare = 0.93

func (w *Worker) studVolts() float64 {
	return w.main.V(w.M.altNodes[machine.Stud], w.M.altNodes[machine.Case])
}

func (w *Worker) linkDrop() float64 {
	net := w.M.main.Network()
	plus, _ := net.Find(w.M.Sys.Battery.Positive)
	return w.main.V(plus, w.M.altNodes[machine.Stud])
}

// Sheet describes the root of the last Solve.
func (w *Worker) Sheet() circuit.Sheet { return w.main.Sheet }

// Work returns the solver's counters.
func (w *Worker) Work() circuit.Work { return w.main.Work }

// Read answers a probe at the last solved operating point. When row is not nil
// the derivatives with respect to z are written to it (Dims long).
func (w *Worker) Read(p *Probe, row []float64) float64 {
	clear(row)
	switch p.kind {
	case question.Volts:
		return w.readVolts(p, row)
	case question.Amps:
		return w.readAmps(p, row)
	case question.Ohms:
		return w.readOhms(p, row)
	case question.ACVolts:
		return w.readRipple(p, row)
	case question.Density:
		soc := w.a.scal[w.M.scalAt["battery.soc"]]
		sg, d := battery.DensityAt(soc.v)
		if row != nil {
			for i := range soc.n {
				row[soc.z[i]] += d * soc.d[i]
			}
		}
		return sg
	}
	return math.NaN()
}

func (w *Worker) setSeed(n circuit.Node, v float64) {
	if i := w.M.main.At(n); i >= 0 {
		w.seed[i] += v
	}
}

// chain adds the adjoint of seed, times the links to z, to row.
func (w *Worker) chain(row []float64) {
	clear(w.grad)
	w.main.Gradient(w.seed, w.grad)
	for _, l := range w.a.links {
		row[l.z] += w.grad[l.p] * l.d
	}
}

func (w *Worker) readVolts(p *Probe, row []float64) float64 {
	if row != nil {
		clear(w.seed)
		w.setSeed(p.red, 1)
		w.setSeed(p.black, -1)
		w.chain(row)
	}
	return w.main.V(p.red, p.black)
}

func (w *Worker) readAmps(p *Probe, row []float64) float64 {
	e := w.M.Sys.Elements[p.elem]
	net := w.M.main.Network()
	a, _ := net.Find(e.From)
	b, _ := net.Find(e.To)
	par := w.M.elems[p.elem].main
	g := 1 / w.a.p[par]
	amps := w.main.V(a, b) * g
	if row != nil {
		clear(w.seed)
		w.setSeed(a, g)
		w.setSeed(b, -g)
		w.chain(row)
		for _, l := range w.a.links {
			if l.p == par {
				row[l.z] -= amps * g * l.d
			}
		}
	}
	return amps
}

// rectifierOhms is the machine's own impedance to its ripple [Ohm], of the size
// of its commutating reactance: 1 to 2 % less ripple on a sound vehicle, and an
// end to it where the output line is open (invented, rough).
const rectifierOhms = 1.0

// prepare factors the passive network with the battery as its ohmic part and
// the rectifier as an open (for resistances) or its impedance (for ripple).
func (w *Worker) prepare(rectifier float64) {
	if w.solved == rectifier {
		return
	}
	w.solved = rectifier
	w.a.pp[w.M.par.passiveRectifier] = rectifier
	// A network of resistors always has its operating point.
	_ = w.passive.Solve(w.a.pp)
}

func (w *Worker) readOhms(p *Probe, row []float64) float64 {
	w.prepare(circuit.Open)
	clear(w.pgrad)
	r := w.passive.Transfer(p.red, p.black, p.red, p.black, w.pgrad)
	for _, l := range w.a.plink {
		if row != nil {
			row[l.z] += w.pgrad[l.p] * l.d
		}
	}
	return r
}

// readRipple is the machine's ripple current times the transfer impedance of
// the vehicle's resistances from the machine to the probe: rotor and regulator
// are inductive and carry none of it.
func (w *Worker) readRipple(p *Probe, row []float64) float64 {
	w.prepare(rectifierOhms)
	clear(w.pgrad)
	net := w.M.passive.Network()
	out, _ := net.Find(w.M.Sys.Machine.Output)
	cas, _ := net.Find(w.M.Sys.Machine.Case)
	z := w.passive.Transfer(out, cas, p.red, p.black, w.pgrad)
	sign := 1.0
	if z < 0 {
		sign = -1
	}
	amps := w.rippleAmps(row, sign*z)
	model := math.Exp(rippleModel * w.z[w.M.ripple])
	value := sign * z * amps * model
	if row == nil {
		return value
	}
	for i := range row {
		row[i] *= model
	}
	for _, l := range w.a.plink {
		row[l.z] += sign * w.pgrad[l.p] * l.d * amps * model
	}
	row[w.M.ripple] += rippleModel * value
	return value
}

// rippleModel is the relative model error of a ripple reading, one standard
// deviation: capacitor, cable inductance and meter bandwidth are not modelled
// (invented, rough).
const rippleModel = 0.25

// rippleAmps is the rms ripple current [A]; its derivatives times scale go to
// row.
func (w *Worker) rippleAmps(row []float64, scale float64) float64 {
	x := w.alternatorX()
	al := w.M.par.alternator
	p := w.a.p[al : al+machine.NumParams]
	if row == nil {
		return w.M.alt.Ripple(x[:], p, machine.ACRms, nil, nil)
	}
	rms := w.M.alt.Ripple(x[:], p, machine.ACRms, w.dx, w.dp)
	clear(w.seed)
	for i, n := range w.M.altNodes {
		w.setSeed(n, scale*w.dx[i])
	}
	w.seed[w.M.own.field] += scale * w.dx[machine.FieldAmps]
	w.chain(row)
	for _, l := range w.a.links {
		if l.p >= al && l.p < al+machine.NumParams {
			row[l.z] += scale * w.dp[l.p-al] * l.d
		}
	}
	return rms
}

func (w *Worker) alternatorX() (x [5]float64) {
	for i, n := range w.M.altNodes {
		x[i] = w.main.V(n, 0)
	}
	x[4] = w.main.X[w.M.own.field]
	return x
}
