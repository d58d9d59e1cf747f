package prediction

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"chargewright/circuit"
	"chargewright/system"
	"chargewright/unit"
)

// Coordinate is one whitened free parameter.
type Coordinate struct {
	ID, Name string // element or parameter id
	Dim      unit.Dim
}

// Model is a compiled system. It does not change and is safe to share; every
// goroutine takes its own Worker.
type Model struct {
	Sys    *system.System
	Coords []Coordinate // z, without the magnitudes

	main    *circuit.Compiled // the vehicle
	passive *circuit.Compiled // its resistances alone: ohms and ripple
	elems   []elemSlot
	scalars []scalarSlot
	elemAt  map[string]int
	scalAt  map[string]int
	soft    int // coordinate of the model term for asymmetric output
	ripple  int // coordinate of the model term for ripple
	dplus   int // coordinate of the model term for D+, -1 where no machine has field diodes
	leak    int // coordinate of what a broken connection leaks
	megohm  int // coordinate of what an ohmmeter makes of it
	stray   int // coordinate of what a voltmeter's leads pick up
	par     params
	faults  map[string]int
	// patterns are the rectifier patterns of each fault, one for each machine.
	patterns [][]int

	bats  []accumulator
	gens  []generator
	mu    sync.Mutex
	stock []*Worker // idle workers
}

// params holds where the devices' parameters begin.
type params struct {
	bank                circuit.Param
	relay, passiveRelay circuit.Param // of a relay, where there is one
	splitter            circuit.Param // of a diode splitter, where there is one
	passiveSplitter     [2]circuit.Param
	asked               circuit.Param // what a control unit says that it asks for, where there is one
}

type elemSlot struct {
	main, passive circuit.Param
	z             int // -1 = exact
	spread        float64
}

type scalarSlot struct {
	id     string
	law    string
	median float64
	spread float64
	z      int
}

// Magnitudes is how many magnitude coordinates follow Coords in z: one for
// each fault of a pair.
const Magnitudes = 2

// Dims returns the length of z.
func (m *Model) Dims() int { return len(m.Coords) + Magnitudes }

// driftVolts is how far the battery's surface charge stands off the job's own
// from one reading to the next [V], one standard deviation: the engine and the
// loads have run or not run in between (0.2 V and more just off charge, gone
// within minutes under load; memory).
const driftVolts = 0.12

// commandVolts is how far what a control unit asks for with nothing switched on
// stands off the job's own from one reading to the next [V], one standard
// deviation: it changes its mind within minutes (memory).
const commandVolts = 0.3

// LaterTerms are coordinates that hidden vehicles were once drawn without: whoever draws
// takes them from streams of their own, and a seed's vehicle stays what it was in all else.
func (m *Model) LaterTerms() []int { return []int{m.leak, m.megohm, m.stray} }

// Drift is a coordinate that moves from reading to reading, and how far in units
// of its z, one standard deviation.
type Drift struct {
	Coord int
	SD    float64
}

// Drifts are what moves from reading to reading.
func (m *Model) Drifts() []Drift {
	var out []Drift
	for _, s := range m.scalars {
		volts, moves := map[string]float64{"battery.surface": driftVolts, "second-battery.surface": driftVolts, "regulator.commanded": commandVolts}[s.id]
		if moves && s.z >= 0 && s.spread > 0 {
			out = append(out, Drift{s.z, volts / s.spread})
		}
	}
	return append(out, Drift{m.stray, strayDrift})
}

// scalarDefaults are the parameters the models know, with the value a system
// file need not give. A file without a needed one (zero here) is refused.
var scalarDefaults = []scalarSlot{
	{id: "battery.soc"},
	{id: "battery.r0"},
	{id: "battery.sulphation", median: 1},
	{id: "battery.cell-loss", law: "fixed"},
	{id: "battery.surface", law: "fixed"},
	{id: "battery.capacity", median: 1},
	{id: "second-battery.apart", law: "fixed"},
	{id: "second-battery.soc"},
	{id: "second-battery.r0"},
	{id: "second-battery.sulphation", median: 1},
	{id: "second-battery.cell-loss", law: "fixed"},
	{id: "second-battery.surface", law: "fixed"},
	{id: "second-battery.capacity", median: 1},
	{id: "machine.flux"},
	{id: "machine.inductance"},
	{id: "machine.stator-ohms"},
	{id: "machine.rotor-ohms"},
	{id: "machine.turns", median: 1},
	{id: "machine.slip", law: "fixed"},
	{id: "machine.residual", median: 0.005},
	{id: "machine.brush-volts", median: 0.6},
	{id: "regulator.setpoint"},
	{id: "regulator.slope", median: -0.010},
	{id: "regulator.band", median: 0.2},
	{id: "regulator.drop", median: 0.8},
	{id: "regulator.on-ohms", median: 0.05},
	{id: "regulator.series-ohms", median: 10},
	{id: "regulator.coil-ohms", median: 60},
	{id: "regulator.standing", median: 0.25},
	{id: "regulator.lamp-ohms", median: 2},
	{id: "regulator.commanded", median: 13.5},
	{id: "regulator.forced", median: 14.5},
	{id: "regulator.demand", law: "fixed"},
	{id: "regulator.uncommanded", law: "fixed"},
	{id: "regulator.answers", median: 1},
	{id: "regulator.gain", median: 1},
	{id: "regulator.stuck", law: "fixed"},
	{id: "splitter.drop", median: 0.72},
	{id: "relay.coil-ohms", median: 80},
	{id: "relay.contact-ohms", median: 2e-3},
	{id: "relay.closes", median: 8},
	{id: "relay.opens", median: 5},
	{id: "bank.amps", median: 30},
	{id: "temps.bay", median: 15},
}

var needed = []string{"battery.soc", "battery.r0", "machine.flux", "machine.inductance", "machine.stator-ohms", "machine.rotor-ohms", "regulator.setpoint"}

// Compile turns a system into a Model.
func Compile(sys *system.System) (*Model, error) {
	m := &Model{Sys: sys, elemAt: map[string]int{}, scalAt: map[string]int{}, faults: map[string]int{}}
	ref := ""
	for _, p := range sys.Points {
		if p.Reference {
			ref = p.ID
		}
	}
	if ref == "" {
		return nil, fmt.Errorf("prediction: system %s names no reference point: mark one with reference: true", sys.ID)
	}
	for i, f := range sys.Faults {
		m.faults[f.ID] = i
		patterns, err := patternsOf(sys, f)
		if err != nil {
			return nil, fmt.Errorf("prediction: fault %s: %w", f.ID, err)
		}
		m.patterns = append(m.patterns, patterns)
	}
	main, passive := circuit.New(ref), circuit.New(ref)
	for _, p := range sys.Points {
		main.Node(p.ID)
		passive.Node(p.ID)
	}
	m.addElements(main, passive)
	if err := m.addScalars(); err != nil {
		return nil, err
	}
	if err := m.addDevices(main, passive); err != nil {
		return nil, err
	}
	m.soft = m.coordinate("model.asymmetry", "model term: output with an unbalanced rectifier", unit.One)
	m.ripple = m.coordinate("model.ripple", "model term: ripple", unit.One)
	m.dplus = -1
	if sys.Machine.DPlus != "" {
		m.dplus = m.coordinate("model.dplus", "model term: voltage of D+", unit.One)
	}
	m.leak = m.coordinate("open.leak", "what a broken connection leaks", unit.One)
	m.megohm = m.coordinate("model.megohm", "model term: what an ohmmeter makes of a leak", unit.One)
	m.stray = m.coordinate("model.stray", "model term: what a voltmeter's leads pick up", unit.One)
	var err error
	if m.main, err = main.Compile(); err != nil {
		return nil, err
	}
	if m.passive, err = passive.Compile(); err != nil {
		return nil, err
	}
	for i := range m.gens {
		m.gens[i].field = m.main.Own(m.gens[i].field)
	}
	for i := range m.bats {
		m.bats[i].own = m.main.Own(m.bats[i].own)
	}
	return m, nil
}

func (m *Model) coordinate(id, name string, dim unit.Dim) int {
	m.Coords = append(m.Coords, Coordinate{id, name, dim})
	return len(m.Coords) - 1
}

func (m *Model) addElements(main, passive *circuit.Network) {
	for i, e := range m.Sys.Elements {
		s := elemSlot{z: -1, spread: 0}
		s.main = main.Resistor(e.ID, main.Node(e.From), main.Node(e.To))
		s.passive = passive.Resistor(e.ID, passive.Node(e.From), passive.Node(e.To))
		if e.Spread > 1 && e.Kind != system.Gap {
			s.spread = math.Log(e.Spread)
			s.z = m.coordinate(e.ID, e.Name, unit.Ohm)
		}
		m.elems = append(m.elems, s)
		m.elemAt[e.ID] = i
	}
}

func (m *Model) addScalars() error {
	for _, s := range withSecond(scalarDefaults) {
		s.z = -1
		m.scalAt[s.id] = len(m.scalars)
		m.scalars = append(m.scalars, s)
	}
	for _, p := range m.Sys.Params {
		i, ok := m.scalAt[p.ID]
		if !ok {
			return fmt.Errorf("prediction: the models know no parameter %q: use one of %s", p.ID, strings.Join(m.scalarIDs(), ", "))
		}
		s := &m.scalars[i]
		s.law, s.median, s.spread = p.Law, p.Median, p.Spread
		if p.Law == "lognormal" {
			s.spread = math.Log(p.Spread)
		}
		if s.spread > 0 && p.Law != "fixed" {
			s.z = m.coordinate(p.ID, p.Name, p.Dim)
		}
	}
	must := needed
	for _, b := range m.Sys.Accumulators()[1:] {
		must = append(slices.Clone(needed), b.Params+"r0")
		if !b.Follows {
			must = append(must, b.Params+"soc")
		}
	}
	if sys := m.Sys; sys.Twin() {
		must = append(slices.Clone(must), "second-machine.flux", "second-machine.inductance", "second-machine.stator-ohms", "second-machine.rotor-ohms", "second-regulator.setpoint")
	}
	for _, id := range must {
		if m.scalars[m.scalAt[id]].median == 0 {
			return fmt.Errorf("prediction: system %s gives no %s: add it under params", m.Sys.ID, id)
		}
	}
	return nil
}

func (m *Model) scalarIDs() []string {
	var ids []string
	for _, s := range m.scalars {
		ids = append(ids, s.id)
	}
	slices.Sort(ids)
	return ids
}

func (m *Model) addDevices(main, passive *circuit.Network) error {
	sys := m.Sys
	at := func(id string) circuit.Node { k, _ := main.Find(id); return k }
	var err error
	named := []string{sys.Bank.Plus, sys.Bank.Minus}
	for _, x := range sys.Generators() {
		g, err := m.newGenerator(x)
		if err != nil {
			return err
		}
		named = slices.Concat(named, g.terminals, g.stage.pins)
		m.gens = append(m.gens, g)
	}
	for _, b := range sys.Accumulators() {
		named = append(named, b.Positive, b.Negative)
	}
	if x := sys.Relay; x.CoilPlus != "" {
		named = append(named, x.CoilPlus, x.CoilMinus, x.In, x.Out)
	}
	for _, id := range named {
		if _, ok := main.Find(id); !ok {
			return fmt.Errorf("prediction: system %s: machine, battery, regulator or bank names the point %q, which is not listed under points", sys.ID, id)
		}
	}
	if err = m.addBatteries(main, passive); err != nil {
		return err
	}
	if err = m.addSplits(main, passive); err != nil {
		return err
	}
	for i := range m.gens {
		if err = m.gens[i].add(main); err != nil {
			return err
		}
	}
	if m.par.bank, _, err = main.Add("load tester", loadTester{}, at(sys.Bank.Plus), at(sys.Bank.Minus)); err != nil {
		return err
	}
	for i := range m.gens {
		m.gens[i].control(main)
		m.gens[i].addPassive(passive)
	}
	return m.addAsked(main, 0)
}

// nodes finds the nodes of points.
func nodes(points []string, at func(string) circuit.Node) (out []circuit.Node) {
	for _, p := range points {
		out = append(out, at(p))
	}
	return out
}

// FaultIndex finds a fault by id.
func (m *Model) FaultIndex(id string) (int, bool) { i, ok := m.faults[id]; return i, ok }

// Flops returns the arithmetic of one factorisation and solve of the vehicle's
// network, counted by the elimination program.
func (m *Model) Flops() int { return m.main.Flops() }

// Unknowns returns the size of the vehicle's network.
func (m *Model) Unknowns() int { return m.main.Unknowns() }

// FromZ returns the quantity of coordinate k at z, SI, before any fault.
func (m *Model) FromZ(k int, z float64) float64 {
	for i := range m.elems {
		if m.elems[i].z == k {
			return m.Sys.Elements[i].Median * math.Exp(m.elems[i].spread*z)
		}
	}
	all := make([]float64, m.Dims())
	all[k] = z
	for i := range m.scalars {
		if m.scalars[i].z == k {
			return m.scalars[i].at(all).v
		}
	}
	return z
}
