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
	lean   bool // needs the vehicle's network only
	sig    string
}

// Dead reports that the question is one of resistances with nothing live.
func (a *Asked) Dead() bool { return a.dead }

// Signature tells questions apart: setup and probes.
func (a *Asked) Signature() string { return a.sig }

// Ask compiles the measured observables of a question; looks are left out, in
// order. It refuses what cannot be read in that setup.
func (m *Model) Ask(q question.Question) (Asked, error) {
	a := Asked{cond: m.conditionsOf(q.Setup), dead: true, lean: true}
	for _, o := range q.Seek {
		if o.Kind == question.Look || o.Kind == question.Speed {
			continue
		}
		p, err := m.probe(o, a.cond)
		if err != nil {
			return a, err
		}
		a.dead = a.dead && o.Kind == question.Ohms
		a.lean = a.lean && p.straight()
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
	for _, x := range m.Sys.Points {
		if x.Refuse != "" && (x.ID == o.Red || x.ID == o.Black) {
			return p, fmt.Errorf("a lead on %s: %s", x.Name, x.Refuse)
		}
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

// Read answers a probe at the last solved operating point. When row is not nil
// the derivatives with respect to z are written to it (Dims long).
func (w *Worker) Read(p *Probe, row []float64) float64 {
	clear(row)
	switch p.kind {
	case question.Volts, question.Amps:
		return w.readStraight(p, row)
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

// ReadBoth is Read of two probes. Two voltages or currents with their derivatives share
// most of the work.
func (w *Worker) ReadBoth(p, q *Probe, rowP, rowQ []float64) (float64, float64) {
	if !p.straight() || !q.straight() || rowP == nil || rowQ == nil {
		return w.Read(p, rowP), w.Read(q, rowQ)
	}
	clear(rowP)
	clear(rowQ)
	clear(w.seed)
	clear(w.other.seed)
	a := w.sow(p, w.seed)
	b := w.sow(q, w.other.seed)
	clear(w.grad)
	clear(w.other.grad)
	w.main.GradientBoth(w.seed, w.other.seed, w.grad, w.other.grad)
	for _, l := range w.a.links {
		rowP[l.z] += w.grad[l.p] * l.d
		rowQ[l.z] += w.other.grad[l.p] * l.d
	}
	w.ownOhms(p, a, rowP)
	w.ownOhms(q, b, rowQ)
	return a + w.strayVolts(p, w.seed, rowP), b + w.strayVolts(q, w.other.seed, rowQ)
}

// straight says whether a probe reads a voltage of the operating point or a current that
// follows from one.
func (p *Probe) straight() bool { return p.kind == question.Volts || p.kind == question.Amps }

// sow puts the derivatives of such a reading with respect to the solution into a seed,
// which is nothing before, and returns the reading.
func (w *Worker) sow(p *Probe, seed []float64) float64 {
	red, black, g := p.red, p.black, 1.0
	if p.kind == question.Amps {
		red, black = w.ends(p)
		g = 1 / w.a.p[w.M.elems[p.elem].main]
	}
	w.plant(seed, red, g)
	w.plant(seed, black, -g)
	return w.main.V(red, black) * g
}

// ends are those of the element that a current goes through.
func (w *Worker) ends(p *Probe) (from, to circuit.Node) {
	e, net := &w.M.Sys.Elements[p.elem], w.M.main.Network()
	from, _ = net.Find(e.From)
	to, _ = net.Find(e.To)
	return from, to
}

// ownOhms adds to a current's derivatives what its element's own resistance does at a
// given voltage.
func (w *Worker) ownOhms(p *Probe, amps float64, row []float64) {
	if p.kind != question.Amps {
		return
	}
	par := w.M.elems[p.elem].main
	g := 1 / w.a.p[par]
	for _, l := range w.a.links {
		if l.p == par {
			row[l.z] -= amps * g * l.d
		}
	}
}

func (w *Worker) plant(seed []float64, n circuit.Node, v float64) {
	if i := w.M.main.At(n); i >= 0 {
		seed[i] += v
	}
}

func (w *Worker) setSeed(n circuit.Node, v float64) { w.plant(w.seed, n, v) }

// chain adds the adjoint of seed, times the links to z, to row.
func (w *Worker) chain(row []float64) {
	clear(w.grad)
	w.main.Gradient(w.seed, w.grad)
	for _, l := range w.a.links {
		row[l.z] += w.grad[l.p] * l.d
	}
}

// readStraight reads a voltage, or a current by the voltage over its element.
func (w *Worker) readStraight(p *Probe, row []float64) float64 {
	clear(w.seed)
	x := w.sow(p, w.seed)
	switch {
	case row != nil:
		w.chain(row)
		w.ownOhms(p, x, row)
	case w.z[w.M.stray] == 0 || p.kind != question.Volts:
		return x
	default:
		clear(w.grad)
		w.main.Gradient(w.seed, w.grad)
	}
	return x + w.strayVolts(p, w.seed, row)
}

// prepare factors the passive network with the battery as its ohmic part and
// the rectifier as an open (for resistances) or its impedance (for ripple).
func (w *Worker) prepare(rectifier float64) {
	if w.solved == rectifier {
		return
	}
	w.solved = rectifier
	if w.a.lean {
		w.a.lean = false
		w.M.assemble(&w.a, w.h, w.comp, w.cond, w.z) // another question of the same operating point
	}
	k := 0
	for i := range w.M.gens {
		g := &w.M.gens[i]
		w.a.pp[g.rectifier] = rectifier
		if rectifier != circuit.Open {
			w.a.pp[g.rectifier] = g.alt.RippleOhms(w.machineParams(g))
		}
		for _, x := range g.stage.rest {
			// Behind it lies the rotor, which carries no ripple.
			w.a.pp[x.passive] = circuit.Open
			if rectifier == circuit.Open {
				w.a.pp[x.passive] = w.a.rest[k]
			}
			k++
		}
	}
	if w.M.Sys.Splitter.In != "" {
		for _, p := range w.M.par.passiveSplitter {
			w.a.pp[p] = splitterOhms
			if rectifier == circuit.Open {
				w.a.pp[p] = circuit.Open
			}
		}
	}
	// A network of resistors always has its operating point.
	_ = w.passive.Solve(w.a.pp)
}

func (w *Worker) readOhms(p *Probe, row []float64) float64 {
	w.prepare(circuit.Open)
	clear(w.pgrad)
	r := w.passive.Transfer(p.red, p.black, p.red, p.black, w.pgrad)
	shows, byOhms, byZ := w.M.megohms(r, w.z)
	if row == nil {
		return shows
	}
	for _, l := range w.a.plink {
		row[l.z] += w.pgrad[l.p] * l.d * byOhms
	}
	row[w.M.megohm] += byZ
	return shows
}

// machineParams are a machine's parameters as they stand.
func (w *Worker) machineParams(g *generator) []float64 {
	return w.a.p[g.alternator : g.alternator+machine.NumParams]
}

// readRipple is the machine's ripple current times the transfer impedance of
// the vehicle's resistances from the machine to the probe: rotor and regulator
// are inductive and carry none of it. The ripples of two machines add as their
// squares: nothing holds their phases to each other.
func (w *Worker) readRipple(p *Probe, row []float64) float64 {
	model := math.Exp(rippleModel * w.z[w.M.ripple])
	value := w.rippleOf(&w.M.gens[0], p, row, model)
	if len(w.M.gens) > 1 {
		value = w.rippleBoth(value, p, row, model)
	}
	if row != nil {
		row[w.M.ripple] += rippleModel * value
	}
	return value
}

// leastRipple keeps the root of two squares smooth where nothing ripples [V].
const leastRipple = 1e-9

// rippleBoth adds the second machine's ripple to the first's, and to its row.
func (w *Worker) rippleBoth(one float64, p *Probe, row []float64, model float64) float64 {
	var other []float64
	if row != nil {
		other = make([]float64, len(row))
	}
	two := w.rippleOf(&w.M.gens[1], p, other, model)
	both := math.Sqrt(one*one + two*two + leastRipple*leastRipple)
	for i := range row {
		row[i] = (one*row[i] + two*other[i]) / both
	}
	return both
}

// rippleOf is what one machine's ripple makes at a probe [V], with its derivatives;
// model is the factor that the model term has on it.
func (w *Worker) rippleOf(g *generator, p *Probe, row []float64, model float64) float64 {
	first := &w.M.gens[0]
	w.prepare(first.alt.RippleOhms(w.machineParams(first)))
	clear(w.pgrad)
	net := w.M.passive.Network()
	out, _ := net.Find(g.sys.Machine.Output)
	cas, _ := net.Find(g.sys.Machine.Case)
	z := w.passive.Transfer(out, cas, p.red, p.black, w.pgrad)
	sign := 1.0
	if z < 0 {
		sign = -1
	}
	amps := w.rippleAmps(g, row, sign*z)
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
	return value
}

// rippleModel is the relative model error of a ripple reading, one standard
// deviation: capacitor, cable inductance and meter bandwidth are not modelled
// (invented, rough).
const rippleModel = 0.25

// rippleAmps is the rms ripple current of a machine [A]; its derivatives times scale
// go to row.
func (w *Worker) rippleAmps(g *generator, row []float64, scale float64) float64 {
	x, p := w.alternatorX(g), w.machineParams(g)
	if row == nil {
		return w.timesRipple(g) * g.alt.Ripple(x, p, machine.ACRms, nil, nil)
	}
	dx := w.dx[:len(x)]
	rms := g.alt.Ripple(x, p, machine.ACRms, dx, w.dp)
	clear(w.seed)
	for i, n := range g.nodes {
		w.setSeed(n, scale*dx[i])
	}
	for i, d := range dx[len(g.nodes):] {
		w.seed[g.field+i] += scale * d
	}
	w.chain(row)
	for _, l := range w.a.links {
		if l.p >= g.alternator && l.p < g.alternator+machine.NumParams {
			row[l.z] += scale * w.dp[l.p-g.alternator] * l.d
		}
	}
	return rms
}

// alternatorX is a machine's terminals and its own unknowns.
func (w *Worker) alternatorX(g *generator) []float64 {
	terminals, unknowns, _ := g.alt.Size()
	x := w.ax[:terminals+unknowns]
	for i, at := range g.nodes {
		x[i] = w.main.V(at, 0)
	}
	copy(x[terminals:], w.main.X[g.field:])
	return x
}
