package system

import "chargewright/internal/yamlread"

// Generator is one machine with its regulator. A vehicle has one, or two that work on
// one line (docs/decisions/030).
type Generator struct {
	Device, Stage   string // of a circuit: "alternator" and "regulator", or the same with "second"
	MachineParams   string // begin of the ids of the machine's parameters
	RegulatorParams string // and of its regulator's
	Machine         *Machine
	Regulator       *Regulator
}

// Ids of parameters of a second machine begin with SecondMachine, those of its
// regulator with SecondRegulator.
const (
	FirstMachine    = "machine."
	SecondMachine   = "second-machine."
	FirstRegulator  = "regulator."
	SecondRegulator = "second-regulator."
)

// Twin says that two machines work on the line.
func (s *System) Twin() bool { return s.SecondMachine.Output != "" }

// Generators are the vehicle's machines with their regulators.
func (s *System) Generators() []Generator {
	one := Generator{"alternator", "regulator", FirstMachine, FirstRegulator, &s.Machine, &s.Regulator}
	if !s.Twin() {
		return []Generator{one}
	}
	return []Generator{one, {"second alternator", "second regulator", SecondMachine, SecondRegulator, &s.SecondMachine, &s.SecondRegulator}}
}

// secondMachine reads a second machine and its regulator, which belong together.
func (r *reader) secondMachine(machine, regulator yamlread.Node) {
	if machine.Present() != regulator.Present() {
		at, want := machine, "second-regulator: {…}"
		if regulator.Present() {
			at, want = regulator, "second-machine: {…}"
		}
		at.Add("a second machine and its regulator belong together", want+", or neither")
	}
	if machine.Present() {
		r.machine(&r.s.SecondMachine, machine.Map("second-machine"))
	}
	if !regulator.Present() {
		return
	}
	m := regulator.Map("second-regulator")
	kind := m.May("kind")
	r.regulator(&r.s.SecondRegulator, &r.s.SecondMachine, m)
	for _, x := range []*Regulator{&r.s.Regulator, &r.s.SecondRegulator} {
		if x.Kind == BuiltInLampExcited || x.Kind == Commanded {
			kind.Add("two machines are modelled with regulators that need neither a lamp's current through the field nor a control unit's word, and one here is "+x.Kind, "kind: "+BuiltInSensing+" for both")
			break
		}
	}
}
