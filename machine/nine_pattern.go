package machine

import "fmt"

// NinePattern is the state of the rectifier and stator of a machine with field
// diodes. A positive and a negative diode are no longer one and the same: D+ is
// fed from the positive side.
type NinePattern int

// The patterns that have tables. Which phase is hit does not matter.
const (
	NineHealthy         NinePattern = iota
	NineDiodeOpen                   // a main positive diode open
	NineDiodeShort                  // a main positive diode shorted
	NinePhaseOpen                   // a phase lead open
	NinePhaseShort                  // two phases shorted together
	NinePhaseEarth                  // a phase on the case, or a main negative diode shorted
	NineTwoOpenSameSide             // two main positive diodes open
	NineTwoOpenOpposite             // a positive and another phase's negative diode open
	NineNegativeOpen                // a main negative diode open
	NineFieldOpen                   // a field diode open
	NineFieldShort                  // a field diode shorted
	NumNinePatterns
)

// ninePatterns says of each pattern its name in files, its elements as
// Changes.Apply takes them, and the pattern whose table gives the output.
var ninePatterns = [NumNinePatterns]struct {
	name     string
	elements []string
	output   Pattern
}{
	NineHealthy:         {Healthy.String(), nil, Healthy},
	NineDiodeOpen:       {DiodeOpen.String(), DiodeOpen.Elements(), DiodeOpen},
	NineDiodeShort:      {DiodeShort.String(), DiodeShort.Elements(), DiodeShort},
	NinePhaseOpen:       {PhaseOpen.String(), PhaseOpen.Elements(), PhaseOpen},
	NinePhaseShort:      {PhaseShort.String(), PhaseShort.Elements(), PhaseShort},
	NinePhaseEarth:      {PhaseEarth.String(), PhaseEarth.Elements(), PhaseEarth},
	NineTwoOpenSameSide: {TwoOpenSameSide.String(), TwoOpenSameSide.Elements(), TwoOpenSameSide},
	NineTwoOpenOpposite: {TwoOpenOpposite.String(), TwoOpenOpposite.Elements(), TwoOpenOpposite},
	NineNegativeOpen:    {"negative-diode-open", []string{"diode-a-=open"}, DiodeOpen},
	NineFieldOpen:       {"field-diode-open", []string{"field-diode-a=open"}, Healthy},
	// With the other two field diodes the shorted one joins the phases as a
	// shorted main diode does.
	NineFieldShort: {"field-diode-short", []string{"field-diode-a=short"}, DiodeShort},
}

// String returns the name used in system files.
func (p NinePattern) String() string {
	if p < 0 || p >= NumNinePatterns {
		return fmt.Sprintf("nine-diode pattern %d", int(p))
	}
	return ninePatterns[p].name
}

// ParseNinePattern returns the pattern of a system file's name; "" is NineHealthy.
func ParseNinePattern(name string) (NinePattern, error) {
	if name == "" {
		return NineHealthy, nil
	}
	var names []string
	for p, x := range ninePatterns {
		if x.name == name {
			return NinePattern(p), nil
		}
		names = append(names, x.name)
	}
	return 0, fmt.Errorf("machine: no pattern %q of a machine with field diodes: use one of %q", name, names)
}

// Elements returns the pattern element by element, as Changes.Apply takes them.
func (p NinePattern) Elements() []string {
	if p < 0 || p >= NumNinePatterns {
		return nil
	}
	return append([]string(nil), ninePatterns[p].elements...)
}

// Output is the pattern whose table gives the output current.
func (p NinePattern) Output() Pattern {
	if p < 0 || p >= NumNinePatterns {
		return Healthy
	}
	return ninePatterns[p].output
}

// tied says that a shorted diode ties D+ to the output, engine running or not.
func (p NinePattern) tied() bool { return p == NineDiodeShort }

// direct says that D+ hangs on a phase without a diode between.
func (p NinePattern) direct() bool { return p == NineFieldShort }

// earthed says that the way back to D+ bypasses the negative diodes.
func (p NinePattern) earthed() bool { return p == NinePhaseEarth }
