package diagnosis

import (
	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// Settings are the numbers of the method. They are data so that a test can
// break them on purpose.
type Settings struct {
	Epsilon     float64 // probability that a value is wrong: wrong point, misread, wrong range
	LookEpsilon float64 // probability that a look is entered wrong
	NonePrior   float64 // prior of "none of these"
	PairPrior   float64 // prior of two independent faults at once
	Components  int     // magnitude components of a fault
	Lazy        float64 // share of the job below which a hypothesis is only screened
	Flip        float64 // [nat] gain below which taking a value as wrong is not fitted
	Surprise    float64 // posterior-predictive p of the best single that wakes the pairs
	NoneWakes   float64 // share of none-of-these that wakes the pairs
	PairNear    int     // pairs around the best singles that are looked at
	PairKeep    int     // pairs fitted in the end
	NoDrift     bool    // the battery's surface charge stays from reading to reading
	Workers     int     // goroutines; results do not depend on it
}

// DefaultSettings returns the settings the benchmark is printed for.
func DefaultSettings() Settings {
	return Settings{
		Epsilon: 0.02, LookEpsilon: 0.02, NonePrior: 0.02, PairPrior: 0.08, Components: 3,
		Lazy: 1e-3, Flip: -2, Surprise: 0.02, NoneWakes: 0.2, PairNear: 60, PairKeep: 20, Workers: 2,
	}
}

// Prior is what is known before the first reading.
type Prior struct {
	Model    *prediction.Model
	Rates    map[string]float64 // fault id -> jobs in a hundred
	NoFault  float64            // the same for a sound vehicle
	Told     []float64          // log of how much likelier what was told is under each fault, last of a sound vehicle; nil = nothing was told
	Meters   map[string]meter.Instrument
	Settings Settings
	Look     func(procedure string) *LookTable // confusion tables of the looks

	memory *memory
}

// LookTable is a look's confusion table.
type LookTable struct {
	Classes   []string
	Given     map[string][]float64 // fault id -> P(class)
	Otherwise []float64
}

// Hyp is one hypothesis with its evidence so far.
type Hyp struct {
	Faults       []int   // indices into the system's faults; none = sound
	Intermittent bool    // shows only in readings taken while it did it
	LogPrior     float64 // with what was told and what repairs did
	rated        float64 // by the rates alone
	LogEvidence  float64 // of all readings
	LogLooks     float64 // part of it that the looks gave
	Fits         []fit
	Stale        bool    // screened only: its fits miss some readings
	stood        float64 // share of the job before the latest data
	seen         int     // data that it was screened or fitted on
	place        int     // where it stood before any reading, from 1; 0 of one that came later
	met          int     // data that it is taken to meet, beyond those

	tries []wrongs // sets of wrong values to begin with, of a pair that was never fitted
	hint  hint     // and where a glance promised most
}

// Belief is a set of hypotheses with probabilities, after some readings.
type Belief struct {
	prior    *Prior
	Hyps     []Hyp
	LogNone  float64 // log prior and evidence of none-of-these
	Readings []question.Reading
	data     []datum
	looks    []look
	asked    []prediction.Asked
	post     []float64 // posterior of each Hyp
	none     float64
	pairs    bool
	repairs  []Repaired
	// parts of LogNone: prior with what repairs said, numbers
	nonePrior, noneNumbers float64
	Work                   Work
}

// Repaired is a repair that was done, as evidence: later readings come from a
// vehicle without the faults it cures.
type Repaired struct {
	Class string // repair class
	Cured Cured
}

// Cured says what the complaint did after a repair.
type Cured string

// What the complaint did.
const (
	Unknown  Cured = "unknown"
	Yes      Cured = "yes"
	No       Cured = "no"
	deadPart       = 0.02 // probability that the part fitted is itself bad or wrong (review of the trade: 1-3 %, memory)
)

// Work counts what an update cost. Newton, the iterations of all solves, hangs a
// little on which goroutine found a setup's sound vehicle first; the others are the
// same on every machine.
type Work struct{ Fits, Solves, Evaluations, Screens, Newton int }

// Add counts more.
func (w *Work) Add(o Work) {
	w.Fits += o.Fits
	w.Solves += o.Solves
	w.Evaluations += o.Evaluations
	w.Screens += o.Screens
	w.Newton += o.Newton
}

// datum is one numeric value in the likelihood.
type datum struct {
	reading, value int
	asked, probe   int
	y, s           float64 // value and standard uncertainty
	how            question.How
	lo, hi         float64
	box, boxLow    float64 // width and low end of the range over which a wrong value is spread
	showing        question.Showing
	epoch          int
}

// look is one classified observation.
type look struct {
	reading, value int
	table          *LookTable
	class          int
	showing        question.Showing
	epoch          int
}

// Posterior returns the probability of hypothesis i.
func (b *Belief) Posterior(i int) float64 { return b.post[i] }

// None returns the probability of none-of-these.
func (b *Belief) None() float64 { return b.none }

// Model returns the compiled system.
func (b *Belief) Model() *prediction.Model { return b.prior.Model }

// Prior returns what the belief started from.
func (b *Belief) Prior() *Prior { return b.prior }

func (p *Prior) faults() []system.Fault { return p.Model.Sys.Faults }
