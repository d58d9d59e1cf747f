package prediction

import (
	"math"

	"chargewright/circuit"
	"chargewright/machine"
)

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
	other   struct{ seed, grad []float64 } // of the second of two readings
	pgrad   []float64
	warm    map[string]*warm // last solution by setup, within one Begin
	vain    map[string]bool  // setups in which a charging point was looked for in vain, since Begin
	start   []float64
	high    []float64 // a guess on the charging side
	dead    circuit.Warm
	before  []float64                // parameters at the highest speed since the start
	waker   *circuit.Solver          // asks how far a machine is from waking
	nominal map[string]*circuit.Warm // the sound vehicle, by setup
	like    Footing                  // what stands in for it
	z       []float64
	h       Hypothesis
	comp    Component
	cond    conditions
	solved  float64             // rectifier ohms the passive factors stand for, 0 = none
	dx, dp  []float64           // of the ripple
	ax      []float64           // the machine's terminals and unknowns
	beside  [maxMachines]Beside // on top of the tables, by machine
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
	w.Rough(false)
	w.Like(nil)
	m.stock = append(m.stock, w)
}

// NewWorker makes the memory for one goroutine.
func (m *Model) NewWorker() *Worker {
	w := &Worker{M: m, main: m.main.NewSolver(), passive: m.passive.NewSolver(), warm: map[string]*warm{}, vain: map[string]bool{}, nominal: map[string]*circuit.Warm{}}
	w.a = m.newAssembly()
	w.seed = make([]float64, m.main.Unknowns())
	w.grad = make([]float64, len(w.a.p))
	w.other.seed, w.other.grad = make([]float64, len(w.seed)), make([]float64, len(w.grad))
	w.pgrad = make([]float64, len(w.a.pp))
	w.dx, w.dp = make([]float64, m.alternatorSize()), make([]float64, machine.NumParams)
	w.ax = make([]float64, m.alternatorSize())
	w.start = m.coldStart()
	w.high = make([]float64, len(w.start))
	for i, v := range w.start {
		w.high[i] = v * chargingGuess
	}
	for i := range m.gens {
		w.high[m.gens[i].field] = 4
	}
	w.Begin()
	return w
}

// chargingGuess lifts the cold start from 12.5 V to 20 V: above the charging point, so
// that settling comes down to it.
const chargingGuess = 1.6

// coldStart guesses a rested battery's volts on every point that hangs on the
// positive side when everything is joined: closer than flat for any hook-up.
func (m *Model) coldStart() []float64 {
	x := make([]float64, m.main.Unknowns())
	level := m.Sys.RestVolts(func(e int) float64 { return m.Sys.Elements[e].Median })
	for i, name := range m.main.Network().Names() {
		if at := m.main.At(circuit.Node(i)); at >= 0 {
			x[at] = level[name]
		}
	}
	return x
}

// CountRoots makes the solver label full-field points that hide other roots.
func (w *Worker) CountRoots() { w.main.CountRoots = true }

// Begin forgets warm starts, so that what follows does not depend on what was
// solved before.
func (w *Worker) Begin() {
	clear(w.vain)
	w.Again()
}

// Again is Begin for another look at the same faults: where no charging point was
// found before it is not looked for again.
func (w *Worker) Again() {
	clear(w.warm)
	w.main.Forget()
}

// Footing is where a vehicle stands, by setup: others of its kind start from there.
type Footing map[string]*circuit.Warm

// Footing gives the operating points that were found since Begin.
func (w *Worker) Footing() Footing {
	out := make(Footing, len(w.warm))
	for k, x := range w.warm {
		n := &circuit.Warm{}
		w.main.Resume(&x.Warm)
		w.main.Save(n)
		n.Doubt()
		out[k] = n
	}
	return out
}

// Like makes the first solve of a setup start from such a vehicle and not from the sound
// one of medians; nil is back to that. It is asked for full field anew, as that one is.
func (w *Worker) Like(from Footing) { w.like = from }

// Rough lets operating points be found to about a microvolt only.
func (w *Worker) Rough(on bool) { w.main.Rough(on) }

// Hold sets the hypothesis and z for the following Solve calls, and for what is read at
// the last of them.
func (w *Worker) Hold(h Hypothesis, comp Component, z []float64) { w.h, w.comp, w.z = h, comp, z }

// Solve finds the operating point of a question's setup.
func (w *Worker) Solve(a *Asked) error {
	w.cond, w.a.lean = a.cond, a.lean && len(a.Probes) > 0
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
	if w.operate() != nil {
		w.main.Forget()
		w.main.Start(w.start)
		if err := w.operate(); err != nil {
			return err
		}
	}
	doubt := w.doubtful()
	if doubt && (w.alone() || !w.vain[a.Key] && (!ok || !x.doubt)) {
		if err := w.upper(); err != nil {
			return err
		}
		doubt = w.doubtful()
		w.vain[a.Key] = doubt
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
// A machine with field diodes answers for itself: it stays asleep until it wakes.
func (w *Worker) doubtful() bool {
	if w.M.Sys.Machine.DPlus != "" || w.cond.omega <= 0 {
		return false
	}
	for i := range w.M.gens {
		g := &w.M.gens[i]
		if (w.alone() || w.linkDrop(g) >= weakLink || w.studVolts(g) <= lowShare*w.M.Sys.Volts) && w.canCharge(g) {
			return true
		}
	}
	return false
}

// canCharge reports whether the machine could deliver anything at the stud's voltage
// with all the field that the line gives it, be it fed at the stud or by the battery.
// Charging lifts both, and as iron saturates EMF grows by less than they do: what cannot
// charge here cannot charge higher up. A cranked one cannot.
func (w *Worker) canCharge(g *generator) bool {
	p, x := w.machineParams(g), w.alternatorX(g)
	net, b := w.M.main.Network(), &w.M.Sys.Battery
	plus, _ := net.Find(b.Positive)
	minus, _ := net.Find(b.Negative)
	volts := max(w.studVolts(g), w.main.V(plus, g.nodes[machine.Case]), w.main.V(plus, minus))
	x[machine.FieldAmps] = volts / p[machine.RotorOhms]
	return g.alt.Ratio(x, p) > cutIn
}

// cutIn is the EMF over the output voltage and its diode drops from which a machine
// delivers at all: an even bridge from 1/sqrt(3), any other a little sooner. The
// tables end, at nothing, at 0.51.
const cutIn = 0.5

func (w *Worker) alone() bool { return math.Abs(w.main.X[w.M.bats[0].own]) < aloneAmps }

// upper looks for a charging operating point where a doubtful one was found: a
// machine that was charging stays so when loads come on, and that is how the
// tests are done.
func (w *Worker) upper() error {
	var studs [maxMachines]float64
	for i := range w.M.gens {
		studs[i] = w.studVolts(&w.M.gens[i])
	}
	alone := w.alone()
	w.main.Save(&w.dead)
	w.main.Forget()
	w.main.Start(w.high)
	err := w.main.Settle(w.a.p)
	for i := range w.M.gens {
		if err == nil && (alone || w.studVolts(&w.M.gens[i]) > studs[i]+samePoint) {
			return nil
		}
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
	if n, ok := w.like[a.Key]; ok {
		return n
	}
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
	_ = w.operate()
	w.main.Save(n)
	n.Doubt()
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

func (w *Worker) studVolts(g *generator) float64 {
	return w.main.V(g.nodes[machine.Stud], g.nodes[machine.Case])
}

func (w *Worker) linkDrop(g *generator) float64 {
	net := w.M.main.Network()
	plus, _ := net.Find(w.M.Sys.Battery.Positive)
	return w.main.V(plus, g.nodes[machine.Stud])
}

// Sheet describes the root of the last Solve.
func (w *Worker) Sheet() circuit.Sheet { return w.main.Sheet }

// Sheets describes what each regulator of the last Solve is at, in the order of the
// system's machines.
func (w *Worker) Sheets() []circuit.Sheet { return w.main.Sheets() }

// Work returns the solver's counters.
func (w *Worker) Work() circuit.Work { return w.main.Work }
