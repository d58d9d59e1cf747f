package machine

import "fmt"

// Pattern is the state of rectifier and stator as a whole.
type Pattern int

// The patterns that have tables. Which of the three phases is hit does not
// matter to the output; nor does the side of a single diode.
const (
	Healthy         Pattern = iota
	DiodeOpen               // one diode open
	DiodeShort              // one positive diode shorted
	PhaseOpen               // one phase lead open; the same as both its diodes open
	PhaseShort              // two phases shorted together at their terminals
	PhaseEarth              // one phase terminal on the case; the same as a negative diode shorted
	TwoOpenSameSide         // two positive diodes open
	TwoOpenOpposite         // a positive and another phase's negative diode open
	NumPatterns
)

// The patterns that grow with a resistance, the parameter FaultOhms, from sound
// to one of the patterns above.
const (
	PhaseJoint Pattern = NumPatterns + iota // in a phase lead: 0 Ohm sound, without end PhaseOpen
	DiodeLeak                               // beside a positive diode: without end sound, 0 Ohm DiodeShort
	// DeltaWindingOpen is one winding of a delta open inside the machine, all
	// three leads sound; figures of a phase are the star's that the sound delta
	// looks like.
	DeltaWindingOpen
	endPatterns
)

var laterNames = [endPatterns - NumPatterns]string{"phase-joint", "diode-leak", "delta-winding-open"}

var patternNames = [NumPatterns]string{
	"healthy", "diode-open", "diode-short", "phase-open", "phase-short",
	"phase-earth", "two-open-same-side", "two-open-opposite",
}

// String returns the name used in system files.
func (p Pattern) String() string {
	switch {
	case p >= 0 && p < NumPatterns:
		return patternNames[p]
	case p >= NumPatterns && p < endPatterns:
		return laterNames[p-NumPatterns]
	}
	return fmt.Sprintf("pattern %d", int(p))
}

// ParsePattern returns the pattern of a system file's name; "" is Healthy.
func ParsePattern(name string) (Pattern, error) {
	if name == "" {
		return Healthy, nil
	}
	for p := range endPatterns {
		if p.String() == name {
			return p, nil
		}
	}
	return 0, fmt.Errorf("machine: no rectifier pattern %q: use one of %q or %q", name, patternNames, laterNames)
}

// shorted says that a current path bypasses a diode, so that the diode drop
// counts on its own and not only in the sum of terminal voltage and two drops.
func (p Pattern) shorted() bool { return p == DiodeShort || p == PhaseEarth }

// table is the pattern whose table serves p. A phase on the case bypasses its
// negative diode: seen from the output terminal that is a shorted positive
// diode with all polarities turned round.
func (p Pattern) table() Pattern {
	if p == PhaseEarth {
		return DiodeShort
	}
	return p
}

// Places of the diodes in Bridge.Open and Bridge.Across.
const (
	APlus = iota
	BPlus
	CPlus
	AMinus
	BMinus
	CMinus
)

// Bridge lists what differs from a healthy rectifier and stator, element by
// element, so that partial faults need no other code. The zero value is healthy.
type Bridge struct {
	Open      [6]bool    // diodes that are open
	Across    [6]float64 // conductance across a diode [S]
	PhaseOpen [3]bool    // phase leads that are open
	PhaseOhms [3]float64 // resistance added in a phase lead [Ohm]
	Between   float64    // conductance between terminals A and B [S]
	Earth     [3]float64 // conductance from a phase terminal to the case [S]
}

// Changes returns the changed elements of a pattern. short is the conductance
// of whatever makes a short [S].
func (p Pattern) Changes(short float64) Bridge {
	var b Bridge
	switch p {
	case DiodeOpen:
		b.Open[APlus] = true
	case DiodeShort:
		b.Open[APlus], b.Across[APlus] = true, short
	case PhaseOpen:
		b.PhaseOpen[0] = true
	case PhaseShort:
		b.Between = short
	case PhaseEarth:
		b.Earth[0] = short
	case TwoOpenSameSide:
		b.Open[APlus], b.Open[BPlus] = true, true
	case TwoOpenOpposite:
		b.Open[APlus], b.Open[BMinus] = true, true
	}
	return b
}
