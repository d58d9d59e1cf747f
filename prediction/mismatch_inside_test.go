package prediction_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"chargewright/prediction"
	"chargewright/system"
)

// swap is an alternator with its regulator inside, put on a wiring that was made
// for another: which end of the wiring comes on which of its pins.
type swap struct {
	wiring, alternator string // systems
	words              [2]string
	leads              string
	joins              [][2]string // end of the wiring, pin of the alternator
}

var swaps = []swap{
	{
		"isolated-earth-side", "built-in-sense",
		[2]string{"earth-side regulator, field fed from the ignition", "regulator inside, lamp and sense"},
		"feed lead on the lamp pin, sense pin open",
		[][2]string{{"f1-lead", "reg-lamp"}},
	},
	{
		"built-in-sense", "commanded",
		[2]string{"lamp and sense wire", "commanded"},
		"lamp wire on the command pin, sense wire on the feedback pin",
		[][2]string{{"lamp-plug", "reg-cmd"}, {"reg-plug-c", "reg-fb"}},
	},
	{
		"commanded", "built-in-sense",
		[2]string{"command and feedback line", "regulator inside, lamp and sense"},
		"command line on the lamp pin, feedback line on the sense pin",
		[][2]string{{"cmd-plug", "reg-lamp"}, {"fb-plug", "reg-sns"}},
	},
	{
		"commanded", "built-in-sense",
		[2]string{"command and feedback line", "regulator inside, lamp and sense"},
		"plug does not fit, left off", nil,
	},
	{
		"built-in-sense", "coach-24",
		[2]string{"lamp and sense wire", "regulator inside, lamp and sense, 24 V"},
		"plug on: both wires on their own pins",
		[][2]string{{"lamp-plug", "reg-lamp"}, {"reg-plug-c", "reg-sns"}},
	},
	{
		"coach-24", "built-in-sense",
		[2]string{"lamp and sense wire, 24 V, a sound second alternator", "regulator inside, lamp and sense, 12 V"},
		"in the first place, plug on: both wires on their own pins",
		[][2]string{{"lamp-plug", "reg-lamp"}, {"reg-plug-c", "reg-sns"}},
	},
}

// insidePoints are those inside an alternator, and what an external regulator or
// field blades were.
func insidePoint(id string) bool {
	return slices.Contains([]string{"ring-a", "ring-b", "reg-fld", "reg-sup", "reg-gnd", "reg-sns", "reg-lamp", "reg-cmd", "reg-fb", "reg-ign", "f1", "f2"}, id)
}

// swapped is the wiring's vehicle with the other's alternator and regulator.
func swapped(t *testing.T, x swap) *prediction.Model {
	t.Helper()
	sys, other := *carOf(t, x.wiring).Sys, carOf(t, x.alternator).Sys
	sys.Faults = nil
	sys.Points = slices.DeleteFunc(slices.Clone(sys.Points), func(p system.Point) bool { return insidePoint(p.ID) || p.ID == "cu-asked" })
	sys.Elements = slices.DeleteFunc(slices.Clone(sys.Elements), func(e system.Element) bool {
		return insidePoint(e.From) || insidePoint(e.To) || e.From == "cu-asked"
	})
	has := func(id string) bool {
		return slices.ContainsFunc(sys.Points, func(p system.Point) bool { return p.ID == id })
	}
	for _, p := range other.Points {
		if insidePoint(p.ID) || p.ID == other.Regulator.Asked {
			sys.Points = append(sys.Points, p)
		}
	}
	for _, e := range other.Elements {
		if own := insidePoint(e.From) || insidePoint(e.To) || e.From == other.Regulator.Asked; own && has(e.From) && has(e.To) {
			sys.Elements = append(sys.Elements, e)
		}
	}
	resist := func(from, to string, ohms float64) {
		sys.Elements = append(sys.Elements, system.Element{ID: from + " " + to, Kind: system.Joint, From: from, To: to, Median: ohms, Spread: 1})
	}
	for _, j := range x.joins {
		resist(j[0], j[1], 0.005) // a sound pin [Ohm]
	}
	// What is left hanging has its insulation to the case.
	for _, p := range sys.Points {
		if !p.Reference && p.ID != "case" {
			resist(p.ID, "case", 1e6)
		}
	}
	sys.Machine, sys.Regulator = other.Machine, other.Regulator
	sys.Machine.PulleyRatio = carOf(t, x.wiring).Sys.Machine.PulleyRatio
	sys.Params = slices.DeleteFunc(slices.Clone(sys.Params), func(p system.Param) bool { return ofMachine(p.ID) })
	for _, p := range other.Params {
		if ofMachine(p.ID) {
			sys.Params = append(sys.Params, p)
		}
	}
	m, err := prediction.Compile(&sys)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func ofMachine(id string) bool {
	return strings.HasPrefix(id, "machine.") || strings.HasPrefix(id, "regulator.")
}

// TestMismatchedInside holds the second table of docs/models/pairs.md against what
// the model says of alternators with their regulator inside on wirings of others.
func TestMismatchedInside(t *testing.T) {
	var rows []string
	for _, x := range swaps {
		f := look(t, swapped(t, x))
		rows = append(rows, fmt.Sprintf("| %s | %s | %s | %.1f A | %.1f V, %.0f A | %.1f V | %.2f A |",
			x.words[0], x.words[1], x.leads, f.keyOn, f.volts, math.Round(f.amps)+0, f.quick, math.Max(f.standing, 0)))
	}
	held(t, rows, 8, "| earth-side regulator, field", "| lamp and sense wire", "| command and feedback line")
}
