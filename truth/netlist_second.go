package truth

import (
	"regexp"
	"strings"
)

// generators writes every machine with its regulator.
func (w *writer) generators() {
	w.generator()
	if w.v.Second == nil {
		return
	}
	second := *w
	second.Builder = strings.Builder{}
	second.x, second.v.GeneratorValues = w.m.Sys.Generators()[1], *w.v.Second
	second.generator()
	w.Builder.WriteString(own.ReplaceAllString(second.String(), "${0}_2"))
}

func (w *writer) generator() {
	w.machine()
	w.field()
	w.regulator()
}

// own are the names of a machine's and its regulator's nodes, elements and diodes: all
// of theirs begin with x behind the letter of their kind, and no point's node does.
// Those of a second machine bear a 2.
var own = regexp.MustCompile(`\b(?:[A-Zvi]?x[a-z0-9]+|DXF?)\b`)

// alsoSave is what is recorded of a second machine.
func (w *writer) alsoSave() string {
	if w.v.Second == nil {
		return ""
	}
	return " i(vxfield_2) i(vxout_2) v(xduty_2)"
}

// quarter is how far the second machine's phases stand from the first one's [electrical
// rad]: a quarter of the ripple's period, six of which make a turn, so that the two
// ripples add as those of machines that know nothing of each other.
const quarter = 3.14159265358979 / 12

// angle is where a machine's phases stand at the start [rad].
func (w *writer) angle() float64 {
	if w.x.Machine == &w.m.Sys.SecondMachine {
		return quarter
	}
	return 0
}
