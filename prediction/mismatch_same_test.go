package prediction_test

import (
	"fmt"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"chargewright/prediction"
	"chargewright/system"
)

// same is an arrangement whose alternator or wiring stands in the tables under
// another's name.
type same struct {
	system, as, words string
	part              func(mine, theirs *system.System) // evens out where they part; nil = nowhere
}

var sames = []same{
	{"split-charge", "lamp-excited", "the alternator is the same; D+ holds the relay's coil as well", nil},
	{"diode-splitter", "lamp-excited", "the alternator is the same but for its negative stud and the sense contact of its regulator: above", func(mine, theirs *system.System) {
		mine.Machine.Case = theirs.Machine.Case
		mine.Regulator.SensePlus, mine.Regulator.SenseMinus = theirs.Regulator.SensePlus, theirs.Regulator.SenseMinus
	}},
}

// TestSameMachines holds docs/models/pairs.md to what it says of arrangements whose
// alternator has no rows of its own: that it is another's, figure by figure.
func TestSameMachines(t *testing.T) {
	var rows []string
	for _, x := range sames {
		mine, theirs := *carOf(t, x.system).Sys, carOf(t, x.as).Sys
		if x.part != nil {
			x.part(&mine, theirs)
		}
		if !reflect.DeepEqual(mine.Machine, theirs.Machine) || !reflect.DeepEqual(mine.Regulator, theirs.Regulator) {
			t.Errorf("%s has another alternator than %s:\n%+v\n%+v\n%+v\n%+v", x.system, x.as, mine.Machine, theirs.Machine, mine.Regulator, theirs.Regulator)
		}
		for _, p := range mine.Params {
			at := slices.IndexFunc(theirs.Params, func(q system.Param) bool { return q.ID == p.ID })
			if ofMachine(p.ID) && (at < 0 || theirs.Params[at].Median != p.Median || theirs.Params[at].Spread != p.Spread) {
				t.Errorf("%s: %s is not that of %s", x.system, p.ID, x.as)
			}
		}
		rows = append(rows, fmt.Sprintf("| %s | %s | %s |", x.system, x.as, x.words))
	}
	held(t, rows, 4, "| split-charge", "| diode-splitter")
}

// boats are the nine-diode alternators with and without a sense contact, each on the
// wiring of the other.
var boats = []struct {
	wiring, alternator string
	leads              string
	make               func(wiring, alternator *system.System)
}{
	{"splitter, insulated return", "nine diodes, negative on its case, no sense contact", "charge wire, D+, negative wire on its case; sense wire left off", func(w, a *system.System) {
		w.Elements = slices.DeleteFunc(slices.Clone(w.Elements), func(e system.Element) bool { return e.ID == "sense-divider" })
		w.Elements = append(w.Elements, system.Element{ID: "sense wire's end", Kind: system.Joint, From: "reg-sns", To: "case", Median: 1e6, Spread: 1})
		w.Regulator = a.Regulator
	}},
	{"warning lamp, 12 V", "nine diodes, sense contact", "charge wire and D+; sense contact left open", func(w, a *system.System) {
		w.Points = append(slices.Clone(w.Points), system.Point{ID: "reg-sns"})
		for _, e := range a.Elements {
			if e.ID == "sense-divider" {
				w.Elements = append(slices.Clone(w.Elements), e)
			}
		}
		w.Regulator = a.Regulator
	}},
}

// TestMismatchedBoat holds the table of docs/models/pairs.md on alternators with and
// without a sense contact against the model.
func TestMismatchedBoat(t *testing.T) {
	var rows []string
	for i, x := range boats {
		wiring, alternator := *carOf(t, "diode-splitter").Sys, carOf(t, "lamp-excited").Sys
		if i == 1 {
			wiring, alternator = *alternator, carOf(t, "diode-splitter").Sys
		}
		x.make(&wiring, alternator)
		wiring.Faults = nil
		m, err := prediction.Compile(&wiring)
		if err != nil {
			t.Fatal(err)
		}
		f := look(t, m)
		rows = append(rows, fmt.Sprintf("| %s | %s | %s | %.1f A | %.1f V, %.0f A | %.1f V | %.2f A |",
			x.wiring, x.alternator, x.leads, f.keyOn, f.volts, math.Round(f.amps)+0, f.quick, math.Max(f.standing, 0)))
	}
	held(t, rows, 8, "| splitter, insulated", "| warning lamp, 12 V | nine diodes, sense")
}

// held compares the rows of docs/models/pairs.md that begin so with what they should be.
func held(t *testing.T, rows []string, bars int, begins ...string) {
	t.Helper()
	page, err := os.ReadFile("../docs/models/pairs.md")
	if err != nil {
		t.Fatal(err)
	}
	var written []string
	for line := range strings.Lines(string(page)) {
		line = strings.TrimSpace(line)
		if strings.Count(line, "|") == bars && slices.ContainsFunc(begins, func(b string) bool { return strings.HasPrefix(line, b) }) {
			written = append(written, line)
		}
	}
	if !slices.Equal(written, rows) {
		t.Errorf("docs/models/pairs.md says otherwise (source: computed by the model); it should have\n%s", strings.Join(rows, "\n"))
	}
}
