package system

import (
	"maps"
	"slices"

	"chargewright/internal/yamlread"
)

// Practice holds what a workshop's experience and price list say: how often
// faults occur, how long work takes, what it costs, in which order others work.
// It is frozen by its hash, because advice depends on it; a workshop may lay
// its own file over it with Override. Further arrangements have rates and orders
// of their own (ForArrangement).
type Practice struct {
	Format int
	SHA256 [32]byte // over the bytes of the file, then of each file laid over it
	Name   string

	Per        float64         // rates are jobs out of this many
	NoFault    Rate            // jobs in which nothing is wrong with the vehicle
	NoneOfThem Rate            // jobs with a fault that no system file knows
	Rates      map[string]Rate // by fault id
	Procedures map[string]Work // by procedure id
	Repairs    map[string]Repair
	Proof      Work // proving the vehicle right after a repair
	Overhead   Overhead
	Labour     Money // an hour of work
	Orders     map[string]Order

	refs []yamlread.Ref
}

// Refs returns every mention of a fault, procedure or caution in the file, with
// where it stands.
func (p *Practice) Refs() []yamlread.Ref { return p.refs }

// RepairIDs lists the repairs in order.
func (p *Practice) RepairIDs() []string { return slices.Sorted(maps.Keys(p.Repairs)) }

// Figure says where a figure comes from and what it is worth.
type Figure struct {
	Source string
	Basis  Basis
}

// Rate is how many jobs out of Per have the fault.
type Rate struct {
	Rate float64
	Figure
}

// Work is how long something takes.
type Work struct {
	Attended float64 // somebody is at it [min]
	Elapsed  float64 // by the clock, never less than attended [min]
	Figure
}

// Money is an amount in the workshop's own currency.
type Money struct {
	Amount float64
	Figure
}

// Repair is a cure: faults that share one are not told apart for money.
type Repair struct {
	ID, Name string
	Work
	Parts    float64  // price of parts, in the workshop's own currency
	Cautions []string // ids of the system's cautions
	Say      []string // the steps, in order
}

// Overhead is time that no single step accounts for.
type Overhead struct {
	FirstRigChange float64 // fetching the kit at the first change of hook-up [min]
	Figure
}

// Order is a fixed order of procedures that others work by; the planner is
// measured against it.
type Order struct {
	Steps []string
	Figure
}
