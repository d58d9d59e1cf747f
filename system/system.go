// Package system reads a charging arrangement from its YAML file: parts,
// joints, wires, test points, switchable places, faults, limits, free
// parameters. It refuses a file with any problem and reports all of them with
// line and column. It solves nothing: prediction compiles a System.
//
// Open load.go for the file format, library/ for the shipped arrangements.
package system

import (
	"chargewright/internal/yamlread"
	"chargewright/rig"
	"chargewright/unit"
)

// Basis says how much a figure is worth.
type Basis string

// The bases a figure may have.
const (
	Read           Basis = "read" // read in a copy of the source
	ReadSecondary  Basis = "read (secondary)"
	Memory         Basis = "memory"          // not confirmed: weak
	CommonPractice Basis = "common practice" // habit of the trade, no published source
	Computed       Basis = "computed"
	Invented       Basis = "invented" // the demo vehicle's own
)

// System is one charging arrangement, as read.
type System struct {
	ID, Name, About string
	Arrangement     string // of the library, whose procedures and rates are this system's too; its own id where it names none
	Format          int
	Volts           float64 // nominal [V]
	SHA256          [32]byte
	Source          []byte // bytes as read, with the hook-ups that they take: pinned in the job

	Points    []Point
	Elements  []Element // joints, wires, loads, leaks: every two-terminal resistance
	Machine   Machine
	Battery   Battery
	Second    Battery  // a second battery beside the first, behind a relay; Positive "" = none
	Relay     Relay    // what joins it; CoilPlus "" = none
	Splitter  Splitter // what feeds both batteries; In "" = none
	Regulator Regulator
	// A second machine with its regulator on the same line; Output "" = none.
	SecondMachine   Machine
	SecondRegulator Regulator
	Bank            Bank
	Params          []Param // free scalar parameters that are not an element's resistance
	Rig             rig.Rig
	Faults          []Fault
	Limits          []Limit
	Cautions        []Caution
	Drawing         *Drawing // where things stand on the sheet; nil = the file does not say

	refs     []yamlread.Ref
	declared map[string]map[string]yamlread.Pos
}

// Refs returns every mention of a procedure or repair in the file, with where
// it stands; question.Check holds them against the other files.
func (s *System) Refs() []yamlread.Ref { return s.refs }

// Where returns where the file declares an id: kind is point, element, param,
// place, fault, limit or caution.
func (s *System) Where(kind, id string) yamlread.Pos { return s.declared[kind][id] }

// Point is a node of the circuit. The reference is the point with Reference.
type Point struct {
	ID, Name  string
	Number    int     // numbered along the path, shown on the drawing; 0 = cannot be touched
	X, Y      float64 // place on the sheet of the drawing
	Terminal  string  // standard terminal marking where there is one
	Reference bool
	Refuse    string // why nothing is to be read there; "" = it can be
}

// ElementKind says what a resistance stands for.
type ElementKind string

// Kinds of element.
const (
	Joint ElementKind = "joint" // clamp, stud, connector pin, contact: lognormal
	Wire  ElementKind = "wire"  // length and section
	Load  ElementKind = "load"  // lamp, coil, accessory, meter
	Gap   ElementKind = "gap"   // normally open: a short or a jumper closes it
)

// Element is a resistance between two points.
type Element struct {
	ID, Name string
	Kind     ElementKind
	From, To string
	Median   float64 // [Ohm]; for a gap the open value
	Spread   float64 // times/divide, one standard deviation; 1 = exact
	Area     float64 // [m2], wires
	Length   float64 // [m], wires
	Copper   bool    // follows copper's temperature coefficient
	Off      bool    // a load that is open until a position of a place closes it; Median is its value when on
	Part     string
	Source   string
	Basis    Basis
}

// Param is a free scalar with a prior; ids are those the models define
// (see params.go): battery.soc, machine.flux, regulator.setpoint …
type Param struct {
	ID, Name string
	Dim      unit.Dim
	Law      string  // normal | lognormal | logit-normal
	Median   float64 // SI
	Spread   float64 // normal: sd in SI; lognormal: times/divide; logit-normal: sd of the logit
	Source   string
	Basis    Basis
}

// Machine holds the figures of the alternator that are not free parameters.
type Machine struct {
	Output, Case, RingA, RingB string // points
	PolePairs                  int
	PulleyRatio                float64
	RatedAmps                  float64 // at RatedVolts and RatedEngine
	RatedVolts                 float64
	RatedEngine                float64 // [rad/s]
	DiodeSaturation            float64 // [A]
	DiodeEmission              float64
	DiodeOhms                  float64 // [Ohm]
	FluxKnee                   float64 // [A] field current at which flux is 1
	Saturation                 float64 // Froehlich a
	// DPlus is the point that three field diodes feed; "" = it has none.
	DPlus                string
	FieldDiodeSaturation float64 // [A]
	FieldDiodeEmission   float64
	FieldDiodeOhms       float64 // [Ohm]
}

// Battery holds the figures of the battery that are not free parameters.
type Battery struct {
	Positive, Negative string  // posts between which the vehicle finds its voltage
	AmpHours           float64 // [Ah]
	Serviceable        bool    // caps come off: density can be taken
	// Upper and Lower are the posts that a series link joins, where two alike make
	// up the voltage: the negative one of the battery with the line's positive
	// post, and the positive one of the other. Empty = one battery.
	Upper, Lower string
}

// Relay names the terminals of a relay whose coil closes a pair of contacts.
type Relay struct {
	CoilPlus, CoilMinus string
	In, Out             string // contacts: the side of the first battery, the side of the second
}

// Splitter names the terminals of a diode splitter: one diode from its plate to each outlet.
type Splitter struct {
	In       string
	Out      [2]string // the first battery's side, the second's
	Emission float64   // ideality factor of its diodes
}

// Regulator names the regulator's pins and where it senses.
type Regulator struct {
	Kind                  string // one of the kinds of load_parts.go
	Supply, Field, Case   string // points
	SensePlus, SenseMinus string
	Volts                 float64 // nominal [V]: the vehicle's, where the file does not say
	Lamp                  string  // built-in-sensing: its lamp terminal, which wakes it
	Feedback, Asked       string  // commanded: its feedback terminal; the point whose volts are what the control unit says that it asks for
}

// Bank is the load tester.
type Bank struct {
	Plus, Minus string
}

// Fault is a change of parameters or elements, with a magnitude where it has
// one. A fault never appears in the solver.
type Fault struct {
	ID, Name, Part string
	Repair         string // repair class: faults with the same cure share one
	Changes        []Change
	Magnitude      *Magnitude
	Shows          float64  // probability that it shows while it is looked for
	BringsOn       []string // hot, wet, vibration, load, standing
	Note           string
	Pattern        string // rectifier or stator pattern, "" = healthy
	SecondPattern  string // of the second machine
	Follows        []Follow
	Outside        bool // known to the truth only: never a hypothesis
}

// Change is one parameter or element moved by a fault.
type Change struct {
	Target string // element or parameter id
	How    string // set | times | plus | open | magnitude | times-magnitude | plus-magnitude
	Value  float64
}

// Magnitude is how bad the fault is: log-normal mixture of three equal
// components spanning Low..High on a log scale.
type Magnitude struct {
	Dim       unit.Dim // unit.One where the fault multiplies
	Low, High float64  // SI
}

// Follow is a fault that this one causes in a share of jobs.
type Follow struct {
	Fault string
	Share float64
}

// Limit is a limit for one procedure's value, with where it comes from.
type Limit struct {
	ID        string
	Procedure string
	Value     int // index into the procedure's values
	Dim       unit.Dim
	Low, High *float64
	PerKelvin float64 // slope of both ends with temperature against 300.15 K
	Condition string
	Source    string
	Basis     Basis
}

// Caution is shown at the step where it applies.
type Caution struct {
	ID, Text, Source string
	Basis            Basis
}

// ElementSet is what a hook-up does to one element.
type ElementSet = rig.Set
