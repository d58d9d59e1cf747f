package truth

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"chargewright/circuit"
	"chargewright/machine"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// Netlist is a vehicle standing in a setup, written for ngspice. Run it with
//
//	ngspice -b -r raw netlist
//
// and hand the raw file to Settled.
type Netlist struct {
	Text     string
	Standing string  // the setup in words
	Engine   float64 // at which the hand holds it [rad/s]

	points  []string // nodes by point of the system, "0" for the reference
	ohms    []float64
	elems   []system.Element
	index   map[string]int // point id to its place
	window  float64        // [s]
	hertz   float64        // electrical, at the slip a light load has; 0 = not turning
	periods int            // in a window; 0 = the window is by time
	varies  bool           // slip is not constant: node "late" holds the turns lost
}

// writer collects the lines of a netlist.
type writer struct {
	strings.Builder
	m *prediction.Model
	v prediction.Values
	x system.Generator // the machine that is being written, with its regulator
	o Options
	t timing
}

func (w *writer) line(format string, args ...any) { fmt.Fprintf(&w.Builder, format+"\n", args...) }

// node names a point's node. Other nodes of the netlist begin with x.
func node(sys *system.System, point string) string {
	for _, p := range sys.Points {
		if p.ID == point && p.Reference {
			return "0"
		}
	}
	return "n_" + strings.ReplaceAll(point, "-", "_")
}

func (w *writer) node(point string) string { return node(w.m.Sys, point) }

// timing is how a run is laid out in time. The battery's slow states follow
// quickly at first, so that the transient settles, and reach their own time
// constants before the two windows at the end. A longer try is also a slower and
// finer one: what hunted or found no step at first has another chance.
type timing struct {
	settle  float64 // [s] before the first window
	slow    float64 // settle over that of the first try
	window  float64 // [s]
	step    float64 // longest time step [s]
	tail    float64 // [s] that windows of whole turns may need more
	hertz   float64
	periods int
}

// Layout of a run. The settling time is doubled by Spice where it was too short.
const (
	firstSettle  = 0.3    // [s]
	leastWindow  = 0.02   // [s]
	leastPeriods = 4      // in a window
	longestTurn  = 0.1    // [s]; a slower machine delivers nothing: window by time
	turnSteps    = 200    // time steps in a period at least, at the first try
	stillStep    = 0.5e-3 // longest step with the engine standing [s]
)

func layout(hertz, settle float64, o Options) timing {
	t := timing{settle: settle, slow: settle / firstSettle, window: leastWindow, step: stillStep / math.Sqrt(settle/firstSettle), hertz: hertz}
	if hertz*longestTurn < 1 {
		return t
	}
	t.periods = max(leastPeriods, int(math.Ceil(leastWindow*hertz)))
	t.window = float64(t.periods) / hertz
	t.step = 1 / (or(o.TurnSteps, turnSteps) * math.Sqrt(t.slow) * hertz)
	t.tail = 1 / hertz
	if o.SlipWithTorque > 0 {
		t.tail += t.window // slip may grow while the load does
	}
	return t
}

// Write writes a vehicle in a setup as a netlist that settles for the given
// time [s]; 0 takes the usual one. It refuses temperatures and holds that it
// cannot stand for.
func (v *Vehicle) Write(m *prediction.Model, s question.Setup, o Options, settle float64) (*Netlist, error) {
	for _, h := range s.Hold {
		if h.What == "output-amps" {
			return nil, fmt.Errorf("truth: held output amps are not in the netlist: hold bank-amps or battery-volts")
		}
	}
	words := standing(m.Sys, s)
	hand := stream(v.key(m), words, 0)
	s.Engine = speed(m.Sys, s) * (1 + o.HandSpeed*hand.NormFloat64())
	offVolts, offAmps := o.HandVolts*hand.NormFloat64(), math.Exp(o.HandAmps*hand.NormFloat64())

	z := append([]float64(nil), v.Z...)
	for _, i := range modelTerms(m) {
		z[i] = 0
	}
	w := &writer{m: m, o: o, v: m.Values(v.Fault, v.Comp, s, z), x: m.Sys.Generators()[0]}
	w.v.BankAmps *= offAmps
	if w.v.HoldVolts > 0 {
		w.v.HoldVolts += offVolts
	}
	al := w.v.Alternator
	hertz := al[machine.Omega] * (1 - al[machine.Slip]) / (2 * math.Pi)
	w.t = layout(math.Abs(hertz), or(settle, firstSettle), o)

	n := &Netlist{
		Standing: words, Engine: s.Engine, ohms: w.v.Ohms, elems: m.Sys.Elements, index: map[string]int{},
		window: w.t.window, hertz: w.t.hertz, periods: w.t.periods, varies: (o.SlipWithTorque > 0 || w.v.Reached > 0) && s.Engine > 0,
	}
	for i, p := range m.Sys.Points {
		n.points = append(n.points, w.node(p.ID))
		n.index[p.ID] = i
	}
	w.line("* %s, %s", v.Name, words)
	w.head(n)
	w.elements()
	w.generators()
	for i, b := range w.m.Sys.Accumulators() {
		w.battery(i, b)
	}
	w.relay()
	w.splitter()
	w.loadTester()
	w.line(".end")
	n.Text = w.String()
	return n, nil
}

// key is the seed of a vehicle's own chances: it hangs on the vehicle alone.
func (v *Vehicle) key(m *prediction.Model) uint64 {
	words := v.Name + " " + strings.Join(v.FaultIDs(m.Sys), " ")
	later := m.LaterTerms() // a hand stays what it was
	for i, z := range v.Z {
		if slices.Contains(later, i) {
			continue
		}
		words += fmt.Sprintf(" %.3f", z)
	}
	return stream(0, words, 0).Uint64()
}

// head writes analysis, what to save and where to start: 12.5 V on everything
// that hangs on the positive side, no current anywhere.
func (w *writer) head(n *Netlist) {
	stop := w.t.settle + 2*w.t.window + w.t.tail
	w.line(".options temp=27 method=gear maxord=2 reltol=2e-4 abstol=1e-6 vntol=1e-5 gmin=1e-10 itl4=60")
	w.line(".tran %.6g %.9g %.9g %.6g uic", w.t.step, stop, w.t.settle-2*w.t.step, w.t.step)
	w.Builder.WriteString(".save")
	high := w.high()
	var start []string
	for i, p := range w.m.Sys.Points {
		if n.points[i] == "0" {
			continue
		}
		fmt.Fprintf(&w.Builder, " v(%s)", n.points[i])
		if high[p.ID] > 0 {
			start = append(start, fmt.Sprintf("v(%s)=%.4g", n.points[i], high[p.ID]))
		}
	}
	w.line(" i(vxfield) i(vxout) v(xduty) v(xlate)%s", w.alsoSave())
	w.line(".ic %s", strings.Join(start, " "))
	// The share of their own time constant that slow states have.
	w.line("Bxslow xslow 0 V=max(0.15,min(1,exp((time-%.6g)/%.6g)))", 0.5*w.t.settle, 0.1*w.t.settle)
}

// rest is a rested battery's voltage [V].
func (w *writer) rest() float64 { return system.Rested(w.m.Sys.Volts) }

// high is where points begin that hang on a positive post by less than 0.1 Ohm, not
// through a load as thick as a starter.
func (w *writer) high() map[string]float64 {
	return w.m.Sys.RestVolts(func(i int) float64 {
		ohms, kind := w.v.Ohms[i], w.m.Sys.Elements[i].Kind
		if ohms >= 0.1 || kind == system.Load && ohms > 0.01 || kind == system.Gap && ohms > 0.06 { // a load tester, no lead
			return math.Inf(1)
		}
		return ohms
	})
}

// elements writes every resistance of the vehicle, and the 10 MOhm meter that
// our network has at every point.
func (w *writer) elements() {
	for i, e := range w.m.Sys.Elements {
		w.line("R%s %s %s %.7g", strings.ReplaceAll(e.ID, "-", "_"), w.node(e.From), w.node(e.To), w.v.Ohms[i])
	}
	for i, p := range w.m.Sys.Points {
		if !p.Reference {
			w.line("Rxleak%d %s 0 %.7g", i, w.node(p.ID), 1/circuit.Leak)
		}
	}
}
