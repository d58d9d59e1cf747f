package prediction_test

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// alternator is how one kind of machine is joined inside: rings and blades.
type alternator struct {
	name   string
	of     string      // system whose machine it is
	inside [][2]string // joints of its own, by point
	blades []string
	own    bool // its regulator is inside
}

// Blades are called one and two here; which lead of the vehicle comes on which
// is part of the case.
var alternators = []alternator{
	{"isolated field, two blades", "isolated-earth-side", [][2]string{{"one", "ring-a"}, {"ring-b", "two"}}, []string{"one", "two"}, false},
	{"isolated field, second blade earthed by a jumper", "isolated-supply-side", [][2]string{{"one", "ring-a"}, {"ring-b", "two"}, {"two", "case"}}, []string{"one", "two"}, false},
	{"field earthed inside, one blade", "supply-side-contact", [][2]string{{"one", "ring-a"}, {"ring-b", "case"}}, []string{"one"}, false},
	{"field fed inside from the output, one blade", "output-fed-earth-side", [][2]string{{"stud", "ring-a"}, {"ring-b", "one"}}, []string{"one"}, false},
	{"nine diodes, regulator inside, D+ blade", "lamp-excited", [][2]string{{"trio", "one"}, {"one", "ring-a"}, {"ring-b", "inside"}}, []string{"one"}, true},
}

// harness is what a vehicle's wiring and regulator bring to the field blades.
type harness struct {
	system, name string
	leads        map[string]string // what it is called, to its end
}

var harnesses = []harness{
	{"isolated-earth-side", "earth-side regulator, field fed from the ignition", map[string]string{"feed": "f1-lead", "control": "f2-lead"}},
	{"supply-side-contact", "contact regulator on the supply side", map[string]string{"field": "f1-lead"}},
	{"output-fed-earth-side", "earth-side regulator with a sense wire", map[string]string{"control": "f2-lead"}},
	{"lamp-excited", "warning lamp, no regulator", map[string]string{"lamp": "dp-lead"}},
}

// lampOnly is a wiring that brings no regulator.
const lampOnly = "lamp-excited"

// ways are the ways to put a harness's leads on blades, each lead on one blade at
// most, that somebody would try: as many leads on as there are blades for.
//
// Two regulators at work on one machine are not in the model: the machine with its own
// takes the feed lead or the lamp's alone.
func ways(h harness, a alternator) [][2]string {
	switch {
	case a.own && h.system == "isolated-earth-side":
		return [][2]string{{"feed", ""}}
	case a.own && h.system != lampOnly:
		return nil
	case len(h.leads) == 1:
		for lead := range h.leads {
			return [][2]string{{lead, ""}}
		}
	case len(a.blades) == 1:
		return [][2]string{{"feed", ""}, {"control", ""}}
	}
	if strings.Contains(a.name, "jumper") {
		return [][2]string{{"feed", "control"}, {"control", "feed"}}
	}
	return [][2]string{{"feed", "control"}}
}

// mixed is a vehicle with another alternator on it: the vehicle's own points and
// wires, the other's machine and inside.
func mixed(t *testing.T, h harness, a alternator, way [2]string) *prediction.Model {
	t.Helper()
	sys, other := carOf(t, h.system).Sys, carOf(t, a.of).Sys
	inner := []string{"ring-a", "ring-b", "f1", "f2", "fe-lead", "fe-ring"}
	if strings.HasPrefix(h.system, lampOnly) {
		inner = []string{"ring-a", "ring-b", "trio", "dplus", "reg-sup", "reg-fld", "reg-case"}
	}
	out := *sys
	out.Faults = nil
	out.Elements = slices.DeleteFunc(slices.Clone(sys.Elements), func(e system.Element) bool {
		return slices.Contains(inner, e.From) || slices.Contains(inner, e.To)
	})
	out.Points = slices.DeleteFunc(slices.Clone(sys.Points), func(p system.Point) bool {
		return slices.Contains(inner, p.ID) && !strings.HasPrefix(p.ID, "ring")
	})
	for _, b := range a.blades {
		out.Points = append(out.Points, system.Point{ID: b})
	}
	for _, b := range []string{"trio", "inside"} { // of the machine with its own regulator, else of none
		if a.own || b == "inside" && h.system == lampOnly {
			out.Points = append(out.Points, system.Point{ID: b})
		}
	}
	join := func(from, to string, ohms float64) {
		out.Elements = append(out.Elements, system.Element{ID: from + " " + to, Kind: system.Joint, From: from, To: to, Median: ohms, Spread: 1})
	}
	const brush, pushOn = 0.025, 0.002 // as in the system files [Ohm]
	for _, j := range a.inside {
		ohms := brush
		if j == [2]string{"two", "case"} {
			ohms = pushOn
		}
		join(j[0], j[1], ohms)
	}
	for i, lead := range way {
		if lead != "" {
			join(h.leads[lead], a.blades[i], pushOn)
		}
	}
	out.Machine = other.Machine
	out.Machine.RingA, out.Machine.RingB = "ring-a", "ring-b"
	out.Params = slices.Clone(sys.Params)
	switch {
	case a.own:
		out.Machine.DPlus = "trio"
		out.Regulator = system.Regulator{Kind: system.BuiltInLampExcited, Volts: other.Volts, Supply: "one", Field: "inside", Case: "case", SensePlus: "one", SenseMinus: "case"}
	case h.system == lampOnly: // a regulator that does nothing stands in for none
		out.Regulator = system.Regulator{Kind: system.EarthSideElectronic, Supply: "inside", Field: "inside", Case: "case", SensePlus: "inside", SenseMinus: "case"}
		out.Elements = append(out.Elements, system.Element{ID: "no regulator", Kind: system.Joint, From: "inside", To: "case", Median: 1, Spread: 1})
	}
	for i, p := range out.Params {
		for _, q := range other.Params {
			if p.ID == q.ID && (strings.HasPrefix(p.ID, "machine.") || a.own && strings.HasPrefix(p.ID, "regulator.")) {
				out.Params[i] = q
			}
		}
	}
	m, err := prediction.Compile(&out)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// found is what such a vehicle does.
type found struct {
	keyOn       float64 // through the ignition switch, key on, stopped [A]
	volts, amps float64 // battery and output, 1250 rpm, loads off
	quick       float64 // battery, 2000 rpm [V]
	standing    float64 // out of the battery with the key off [A]
}

func look(t *testing.T, m *prediction.Model) found {
	t.Helper()
	procs, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	read := func(procedure string, seek ...question.Observable) []float64 {
		target, err := procs[procedure].Target(m.Sys)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := m.Sys.Rig.Path(m.Sys.Rig.Rest, target)
		if err != nil {
			t.Fatal(err)
		}
		a, err := m.Ask(question.Question{Setup: question.Setup{Rig: plan.Final, Engine: question.EngineSpeed(&m.Sys.Rig, plan.Final)}, Seek: seek})
		if err != nil {
			t.Fatal(err)
		}
		w := m.NewWorker()
		w.Hold(prediction.Hypothesis{}, prediction.Component{}, make([]float64, m.Dims()))
		if err := w.Solve(&a); err != nil {
			t.Fatal(err)
		}
		var out []float64
		for i := range a.Probes {
			out = append(out, w.Read(&a.Probes[i], nil))
		}
		return out
	}
	battery := question.Observable{Kind: question.Volts, Red: "batp", Black: "batn"}
	through := func(id string) question.Observable { return question.Observable{Kind: question.Amps, Through: id} }
	key := read("walk-feed-wire", through("ign-switch"))
	run := read("charge-volts", battery, through("w-charge"))
	quick := read("quick-volts", battery)
	drain := read("drain", through("w-battery"))
	return found{keyOn: key[0], volts: run[0], amps: run[1], quick: quick[0], standing: -drain[0]}
}

// The words of an outcome and where they begin. A sound pair draws 7 A with the
// key on, charges with some 10 A, holds 14 V and takes milliamps standing.
func (f found) outcome() string {
	out := "charges as it should"
	switch {
	case f.keyOn > 20:
		return "shorts the ignition feed through the jumper"
	case f.amps < 1:
		out = "no charge"
	case f.quick > 15.2:
		out = "full field: overcharges"
	}
	switch {
	case f.standing <= 0.5:
		return out
	case out == "no charge":
		return "no charge, and drains with the key off"
	}
	return "charges, and drains with the key off"
}

// TestMismatchedPairs holds the table of docs/models/pairs.md against what the
// model says of every alternator of the library on every wiring of it. When they
// part, the table as it would be now is printed.
func TestMismatchedPairs(t *testing.T) {
	var rows []string
	for _, h := range harnesses {
		for _, a := range alternators {
			for _, way := range ways(h, a) {
				f := look(t, mixed(t, h, a, way))
				how := way[0] + " lead on its blade"
				switch {
				case len(a.blades) == 2 && way[1] == "":
					how = way[0] + " lead on the first, nothing on the second"
					if strings.Contains(a.name, "jumper") {
						how = way[0] + " lead on the first, the jumper on the second"
					}
				case len(a.blades) == 2:
					how = way[0] + " lead on the first, " + way[1] + " lead on the second"
				case len(h.leads) == 2:
					how += ", the other lead off"
				}
				rows = append(rows, fmt.Sprintf("| %s | %s | %s | %.1f A | %.1f V, %.0f A | %.1f V | %.2f A | %s |",
					h.name, a.name, how, f.keyOn, f.volts, math.Round(f.amps)+0, f.quick, math.Max(f.standing, 0), f.outcome()))
			}
		}
	}
	page, err := os.ReadFile("../docs/models/pairs.md")
	if err != nil {
		t.Fatal(err)
	}
	var written []string
	for line := range strings.Lines(string(page)) {
		if line = strings.TrimSpace(line); strings.HasPrefix(line, "|") && strings.Count(line, "|") == 9 && !strings.Contains(line, "---") && !strings.Contains(line, "key on |") {
			written = append(written, line)
		}
	}
	if !slices.Equal(written, rows) {
		t.Errorf("docs/models/pairs.md says otherwise (source: computed by the model); the table is now\n%s", strings.Join(rows, "\n"))
	}
}
