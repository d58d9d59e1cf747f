// Package rig knows how a vehicle can be hooked up: which switchable places it
// has, which moves lead from one position to another, what each move costs, and
// which moves and states are never allowed.
//
// Places are data of the system file, not code: a system with two batteries or
// no field leads has other places. The package refuses to plan through a state
// that a rule forbids; it knows no circuit and no clock, so rules about seconds
// and volts stand as cautions (docs/models/safety.md says which).
//
// Open search.go first for the hook-up plan, rules.go for guards and forbidden
// states, new.go for what a description must satisfy, recover.go for the way
// back from a wrong order.
package rig

// State is a discrete position of every place, packed four bits a place in the
// order of the system's places. States are comparable and can be enumerated.
type State uint64

// MaxPlaces is how many places fit in a State; MaxPositions how many positions
// one place may have.
const (
	MaxPlaces    = 16
	MaxPositions = 16
)

// At returns the position of place i.
func (s State) At(i int) int { return int(s>>(4*i)) & 15 }

// With returns the state with place i moved to position p.
func (s State) With(i, p int) State {
	return s&^(15<<(4*i)) | State(p)<<(4*i)
}

// Place is one thing that can stand in several positions while work goes on:
// the engine, the ignition switch, the earth cable, the output lead, a plug.
type Place struct {
	ID, Name  string
	Role      string // what rules speak of: engine, ignition, earth-cable, output-lead, regulator-plug, field-leads, field-jumper, load-bank, accessories, belt, brake, exhaust, bench, watch-meter, clamp, bypass
	Positions []Position
	Moves     []Move
}

// Position is where a place can stand.
type Position struct {
	ID, Name string
	// Inert positions read the same on every meter as the first (resting)
	// position; a test that does not name the place accepts any of them.
	Inert bool
	// Sets lists what the position does to the circuit, in the system's words.
	// A position that sets nothing leaves the circuit as the system file has it.
	Sets []Set
	// Engine is the engine speed [rad/s] of an engine place's position.
	Engine float64
	// Reached is the highest engine speed [rad/s] since the start; Engine where it is
	// nothing more. Only a machine that has to wake minds it.
	Reached float64
}

// Set changes one element of the circuit while a position is held. Exactly one
// of Open, Closed, Value and Add is given.
type Set struct {
	Element string  // joint, wire, load, gap or parameter id
	Open    bool    // cut
	Closed  bool    // a load that is normally off is on, at its own value
	Value   float64 // SI value that replaces the element's own
	Add     float64 // added to the element's own value (a series ammeter) [Ohm]
}

// Move takes one place from one position to another.
type Move struct {
	From, To int
	Minutes  float64  // attended
	Elapsed  float64  // clock minutes when longer than attended (charging, warming)
	Say      string   // the line on the hook-up checklist
	Cautions []string // ids of the system's cautions, shown on this line
	Needs    []Cond   // all must hold in the state the move starts from
}

// Cond holds when the place stands in one of the positions.
type Cond struct {
	Place     int
	Positions []int
	Rule      string // rule id, e.g. R7 (guards only; a Never carries its own)
	Why       string // the words shown on refusal (guards only)
}

// Never is a combination of positions in which no state may be.
type Never struct {
	When []Cond // all of them together are forbidden
	Rule string // rule id
	Why  string
}

// Rig is the hook-up graph of one system. Build it with New; a copy shares the
// compiled tables and may be used from several goroutines.
type Rig struct {
	Places []Place
	Never  []Never
	Rest   State // as the vehicle rolls in: everything connected, engine off

	tables *tables // New fills it
}
