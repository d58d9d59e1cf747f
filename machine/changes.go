package machine

import (
	"errors"
	"fmt"
	"strings"

	"chargewright/unit"
)

// Change is what happened to a diode.
type Change struct {
	Open   bool    // it conducts no more
	Across float64 // conductance beside it [S]
}

// Changes lists what differs from a sound winding and rectifier, element by
// element. The zero value is sound. Index 0, 1, 2 are phases a, b, c.
type Changes struct {
	Main        [6]Change // as the constants APlus to CMinus
	Star        [2]Change // star point to output, case to star point
	Field       [3]Change
	WindingOpen [3]bool
	WindingOhms [3]float64 // added in a winding [Ohm]
	LeadOpen    [3]bool    // between winding and rectifier
	LeadOhms    [3]float64
	Between     [3]float64 // between the rectifier's a and b, b and c, c and a [S]
	Earth       [3]float64 // from the rectifier's terminal to the case [S]
	StarEarth   float64    // from the star point to the case [S]
}

// ShortOhms is the resistance of a short that is given as a word [Ohm].
const ShortOhms = 1e-3

// changed is one element's place in Changes.
type changed struct {
	open   *bool    // nil: it cannot be opened
	series *float64 // resistance in series [Ohm]; nil: it has none
	across *float64 // conductance that appears [S]; nil: none
	diode  *Change
}

// phaseOf is 0, 1, 2 for a, b, c and -1 for anything else.
func phaseOf(s string) int {
	if len(s) != 1 {
		return -1
	}
	return strings.Index("abc", s)
}

// element finds an element by its name.
func (c *Changes) element(name string) (changed, bool) {
	switch name {
	case "star-diode+":
		return changed{diode: &c.Star[0]}, true
	case "star-diode-":
		return changed{diode: &c.Star[1]}, true
	case "star-case":
		return changed{across: &c.StarEarth}, true
	}
	if f, ok := strings.CutPrefix(name, "field-diode-"); ok {
		k := phaseOf(f)
		return changed{diode: &c.Field[max(k, 0)]}, k >= 0
	}
	kind, at, _ := strings.Cut(name, "-")
	k := phaseOf(at)
	switch {
	case kind == "diode":
		return c.mainDiode(at)
	case kind == "winding" && k >= 0:
		return changed{open: &c.WindingOpen[k], series: &c.WindingOhms[k]}, true
	case kind == "lead" && k >= 0:
		return changed{open: &c.LeadOpen[k], series: &c.LeadOhms[k]}, true
	case phaseOf(kind) >= 0 && at == "case":
		return changed{across: &c.Earth[phaseOf(kind)]}, true
	case phaseOf(kind) >= 0 && k >= 0 && kind != at:
		if from := phaseOf(kind); k == (from+1)%3 {
			k = from
		}
		return changed{across: &c.Between[k]}, true
	}
	return changed{}, false
}

// mainDiode finds a+ to c-.
func (c *Changes) mainDiode(at string) (changed, bool) {
	for side, sign := range []string{"+", "-"} {
		if phase, ok := strings.CutSuffix(at, sign); ok && phaseOf(phase) >= 0 {
			return changed{diode: &c.Main[phaseOf(phase)+3*side]}, true
		}
	}
	return changed{}, false
}

// ElementNames lists the elements that can change, one example of each kind.
var ElementNames = []string{"diode-a+", "diode-b-", "field-diode-a", "star-diode+", "star-diode-", "winding-a", "lead-a", "a-b", "a-case", "star-case"}

// Apply takes a change as people write it: ELEMENT=open, ELEMENT=short, or
// ELEMENT=RESISTANCE. A resistance is in series in a winding or a lead, beside a
// diode (a leak), and the path itself between two terminals. The error says what
// to write instead.
func (c *Changes) Apply(text string) error {
	name, state, ok := strings.Cut(text, "=")
	el, known := c.element(name)
	switch {
	case !known:
		return fmt.Errorf("no element %q; write instead: one of %s, with a, b or c for the phase", name, strings.Join(ElementNames, ", "))
	case !ok || state == "":
		return fmt.Errorf("%q does not say what happened; write instead: %s", text, el.states(name))
	case state == "open" && el.diode != nil:
		el.diode.Open = true
		return nil
	case state == "open" && el.open != nil:
		*el.open = true
		return nil
	case state == "short" && el.diode != nil:
		*el.diode = Change{Open: true, Across: 1 / ShortOhms}
		return nil
	case state == "short" && el.across != nil:
		*el.across = 1 / ShortOhms
		return nil
	case state == "open" || state == "short":
		return fmt.Errorf("%s cannot be %s; write instead: %s", name, state, el.states(name))
	}
	ohms, err := unit.Parse(unit.Ohm, state)
	if err != nil || ohms <= 0 {
		return fmt.Errorf("%q is no resistance above 0 Ohm; write instead: %s", state, el.states(name))
	}
	switch {
	case el.series != nil:
		*el.series = ohms
	case el.diode != nil:
		el.diode.Across = 1 / ohms
	default:
		*el.across = 1 / ohms
	}
	return nil
}

// states says what an element can be.
func (e changed) states(name string) string {
	switch {
	case e.diode != nil:
		return name + "=open, " + name + "=short or, for a leak, " + name + "=\"5 Ohm\""
	case e.series != nil:
		return name + "=open or " + name + "=\"0.2 Ohm\""
	}
	return name + "=short or " + name + "=\"0.2 Ohm\""
}

// check refuses what the build does not have.
func (c *Changes) check(b *Build) error {
	var problems []error
	say := func(wrong bool, what string) {
		if wrong {
			problems = append(problems, errors.New("machine: "+what))
		}
	}
	negative := c.StarEarth < 0
	for k := range 3 {
		negative = negative || c.WindingOhms[k] < 0 || c.LeadOhms[k] < 0 || c.Between[k] < 0 || c.Earth[k] < 0 ||
			c.Field[k].Across < 0 || c.Main[k].Across < 0 || c.Main[k+3].Across < 0
	}
	say(negative || c.Star[0].Across < 0 || c.Star[1].Across < 0, "a changed resistance or conductance must be 0 or more")
	say(c.Star != [2]Change{} && !b.StarDiodes, "a star-point diode is changed, but the machine has none")
	say(c.Field != [3]Change{} && b.Field == nil, "a field diode is changed, but the machine has none")
	say(c.StarEarth > 0 && b.Winding != Star, "a delta winding has no star point that could touch the case")
	return errors.Join(problems...)
}

// patternElements are the patterns element by element, as Apply takes them.
var patternElements = [NumPatterns][]string{
	Healthy:         nil,
	DiodeOpen:       {"diode-a+=open"},
	DiodeShort:      {"diode-a+=short"},
	PhaseOpen:       {"lead-a=open"},
	PhaseShort:      {"a-b=short"},
	PhaseEarth:      {"a-case=short"},
	TwoOpenSameSide: {"diode-a+=open", "diode-b+=open"},
	TwoOpenOpposite: {"diode-a+=open", "diode-b-=open"},
}

// Elements returns the pattern element by element, as Changes.Apply takes them.
func (p Pattern) Elements() []string {
	if p < 0 || p >= NumPatterns {
		return nil
	}
	return append([]string(nil), patternElements[p]...)
}
