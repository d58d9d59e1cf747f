package planning

import (
	"chargewright/diagnosis"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// Kind is what a step does.
type Kind string

// Kinds of step.
const (
	Test   Kind = "test"
	Look   Kind = "look"
	Repeat Kind = "repeat"
	Repair Kind = "repair"
	Sound  Kind = "no-fault" // nothing is wrong that this model knows: say so and prove it
	Beyond Kind = "beyond"   // something not on the list: stop measuring, look wider
)

// Step is one thing to do next.
type Step struct {
	Do        Kind
	Procedure *question.Procedure // for test and look
	Question  question.Question   // as it will be asked
	Repair    string              // repair class, for repair
	Hookup    []rig.Step          // moves from the present hook-up
	To        rig.State           // the hook-up afterwards
	Minutes   float64             // attended, the work itself
	Waiting   float64             // clock minutes beyond the attended ones
	Rigging   float64             // attended, changing the hook-up
	Money     float64             // parts
	Bits      float64             // expected information about which repair is needed
	Rank      float64             // what the list is ordered by: bits per minute, or the repair's odds
	Separates []string            // the two leading suspects it tells apart
	Chance    float64             // for a repair: probability that it is the cure
	Why       string
}

// Plan is the ranked next steps with what the ranking cost.
type Plan struct {
	Next []Step // best first
	Stop *Step  // the repair (or no-fault, or beyond) when it is time; also Next[0]
	Work int    // forecasts and samples, the same on every machine
	Cut  bool   // cut short from outside: not reproducible
}

// State is where a job stands for the planner.
type State struct {
	Belief diagnosis.Belief
	Rig    rig.State
	Setup  question.Setup  // temperatures of the day
	Done   map[string]int  // procedure id -> times done since the last repair
	Barred map[string]bool // could not be done on this vehicle, or no such meter
	Moved  bool            // the kit has been fetched
}

// Policy chooses the next step of a job.
type Policy func(State) (Step, error)

// Board is everything about a system that does not change while a job goes on:
// the procedures with their targets and compiled questions, and the ways
// between hook-ups.
type Board struct {
	Sys      *system.System
	Model    *prediction.Model
	Practice *system.Practice
	Procs    []*question.Procedure
	Groups   *diagnosis.Groups
	Settings Settings

	ways    *rig.Table
	targets []rig.Target
	setups  []rig.State // where each procedure is predicted: its target, the rest at rest
	looks   []*diagnosis.LookTable
	at      map[string]int
}

// Settings are the planner's numbers, tuned on the tuning seeds only
// (docs/results.md).
type Settings struct {
	Patience float64 // how many of the cheapest useful test's minutes a wrong repair may cost
	Least    float64 // share from which a hypothesis is forecast
	Samples  int     // readings sampled for a test's score
	Sure     float64 // share of "sound" or "none of these" that ends the search
	Waiting  float64 // what a minute of waiting counts against one of work
	Useful   float64 // bits under which a test is not worth offering
	Again    float64 // factor on the score of a test already done
	Rollouts int     // ends of the job played for each of the best steps; 0 = the step of most bits a minute
}

// DefaultSettings returns the settings the benchmark is printed for.
func DefaultSettings() Settings {
	return Settings{Patience: 1.0, Least: 3e-3, Samples: 48, Sure: 0.95, Waiting: 0.3, Useful: 0.01, Again: 0.15}
}
