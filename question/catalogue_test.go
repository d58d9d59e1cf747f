package question_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"chargewright/internal/badfile"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

func TestBadProcedures(t *testing.T) {
	badfile.Run(t, "testdata/bad", func(file string, data []byte) error {
		_, err := question.Parse(file, data)
		return err
	})
}

// library loads everything that is shipped.
func library(t *testing.T) (map[string]*system.System, question.Catalogue, *system.Practice) {
	t.Helper()
	c, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	p, err := system.DefaultPractice()
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]*system.System{}
	for _, id := range system.Library() {
		if all[id], err = system.ByID(id); err != nil {
			t.Fatal(err)
		}
	}
	return all, c, p
}

// done is how many procedures can be done on each system: one that a renamed
// point takes away is missed here.
var done = map[string]int{
	"coach-24":       124,
	"built-in-sense": 82, "commanded": 79, "isolated-earth-side": 104, "lamp-excited": 96, "lamp-excited-24": 105, "split-charge": 106, "diode-splitter": 95, "isolated-supply-side": 111, "output-fed-earth-side": 104, "supply-side-contact": 109,
}

// TestLibraryAgrees: the shipped files mention nothing that is not there, and
// every procedure can be reached from the vehicle as it rolls in.
func TestLibraryAgrees(t *testing.T) {
	systems, c, _ := library(t)
	for id, s := range systems {
		own, err := system.PracticeFor(id)
		if err != nil {
			t.Fatal(err)
		}
		if list := question.Check(s, c, own); len(list) > 0 {
			t.Errorf("%s:\n%v", id, list)
		}
		applies, measured, rigs := 0, 0, map[rig.State]bool{}
		for _, x := range c {
			ok, _ := x.Applies(s)
			if ok {
				applies++
			}
			if ok && x.Does == "measure" && x.Where == "vehicle" {
				measured++
				target, err := x.Target(s)
				if err != nil {
					t.Fatal(err)
				}
				plan, err := s.Rig.Path(s.Rig.Rest, target)
				if err != nil {
					t.Fatal(err)
				}
				rigs[plan.Final] = true
			}
		}
		t.Logf("%s: %d of %d procedures, %d of them measure on the vehicle, in %d hook-ups", id, applies, len(c), measured, len(rigs))
		if applies != done[id] {
			t.Errorf("%s: %d procedures can be done, want %d; if that is meant, write it down", id, applies, done[id])
		}
	}
}

// TestEveryProcedureIsDone: each procedure is of use on some system, and each
// row of a look is of a fault that one of those systems has.
func TestEveryProcedureIsDone(t *testing.T) {
	systems, c, _ := library(t)
	for id, p := range c {
		faults, on := map[string]bool{}, 0
		for _, s := range systems {
			if ok, _ := p.Applies(s); ok {
				on++
				for _, f := range s.Faults {
					faults[f.ID] = true
				}
			}
		}
		if on == 0 {
			t.Errorf("%s can be done on no system", id)
		}
		if p.Look == nil {
			continue
		}
		for f := range p.Look.Given {
			if !faults[f] {
				t.Errorf("%s tells of %s, which no system has that it is done on", id, f)
			}
		}
	}
}

// TestCheckSees breaks one thing after the other in files that agree.
func TestCheckSees(t *testing.T) {
	systems, c, p := library(t)
	s := systems["isolated-earth-side"]
	proc := func(text string) question.Catalogue {
		x, err := question.Parse("x.yaml", []byte("format: 1\nid: charge-volts\nname: X\nwhere: vehicle\nsettles: x\nbasis: memory\ndo: [x]\n"+text))
		if err != nil {
			t.Fatal(err)
		}
		out := question.Catalogue{}
		for id, y := range c {
			out[id] = y
		}
		out["charge-volts"] = x
		return out
	}
	const volts = "does: measure\nrig: {}\nmeasure: [{quantity: volts, red: batp, black: batn, meter: dmm, box: volts}]\n"
	for _, c := range []struct{ name, text, want string }{
		{"point", strings.Replace(volts, "batp", "battp", 1), "no point is called battp; write instead: batp"},
		{"branch", "does: measure\nrig: {}\nmeasure: [{quantity: volts, red: batp, black: batn, meter: dmm, box: v}, {quantity: amps, through: w-chrage, meter: dc-clamp, box: a}]\n", "no branch is called w-chrage; write instead: w-charge"},
		{"meter", strings.Replace(volts, "dmm", "dm", 1), "no meter is called dm; write instead: dmm"},
		{"place", strings.Replace(volts, "rig: {}", "rig: {motor: fast}", 1), "no place is called motor"},
		{"position", strings.Replace(volts, "rig: {}", "rig: {engine: fats}", 1), "no position is called engine/fats; write instead: engine/fast"},
		{"caution", volts + "cautions: [c999]\n", "no caution is called c999"},
		{"fault", "does: look\nrig: {}\nlook: {question: q, classes: [a, b], given: {belt-slop: [0.5, 0.5]}, otherwise: [0.5, 0.5]}\n", "no fault is called belt-slop; write instead: belt-slip"},
		{"limit of a look", "does: look\nrig: {}\nlook: {question: q, classes: [a, b], given: {}, otherwise: [0.5, 0.5]}\n", "is of a look, which has no number"},
		{"limit's unit", strings.Replace(volts, "volts, red", "ohms, red", 1), "limit regulated is in volts, and value 0 of charge-volts is in ohms"},
		{"no way there", strings.Replace(volts, "rig: {}", "rig: {engine: fast, earth-cable: \"off\"}", 1), "R5"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := question.Check(s, proc(c.text), p).Error(); !strings.Contains(got, c.want) {
				t.Errorf("found\n%s\nwant %s", got, c.want)
			}
		})
	}
	missing := *p
	missing.Procedures = map[string]system.Work{}
	missing.Rates = map[string]system.Rate{}
	missing.Repairs = map[string]system.Repair{}
	got := question.Check(s, c, &missing).Error()
	for _, want := range []string{"no minutes for charge-volts", "no rate for fault belt-slip", "no repair is called"} {
		if !strings.Contains(got, want) {
			t.Errorf("practice figures left out: %q is not said", want)
		}
	}
}

// TestSharesSumToOne holds every look of the library against the sum of
// probabilities, closed form 1.
func TestSharesSumToOne(t *testing.T) {
	_, c, _ := library(t)
	for id, p := range c {
		if p.Look == nil {
			continue
		}
		for fault, shares := range p.Look.Given {
			sum := 0.0
			for _, v := range shares {
				sum += v
			}
			// Two-decimal figures sum to 1 but for rounding of the sum.
			if math.Abs(sum-1) > 1e-6 || len(shares) != len(p.Look.Classes) {
				t.Errorf("%s, %s: %v sums to %v", id, fault, shares, sum)
			}
		}
	}
}

func TestTarget(t *testing.T) {
	systems, c, _ := library(t)
	s := systems["isolated-earth-side"]
	target, err := c["charge-volts"].Target(s)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := s.Rig.Path(s.Rig.Rest, target)
	if err != nil {
		t.Fatal(err)
	}
	// closed form: 1250 turns a minute
	if got, want := question.EngineSpeed(&s.Rig, plan.Final), 1250*2*math.Pi/60; math.Abs(got-want) > 1e-9 {
		t.Errorf("engine at %v rad/s, want %v", got, want)
	}
	if got := question.EngineSpeed(&s.Rig, s.Rig.Rest); got != 0 {
		t.Errorf("engine turns at rest: %v", got)
	}
}

// TestNameOfFile: a procedure is found by its file, so both names agree.
func TestNameOfFile(t *testing.T) {
	good, err := os.ReadFile("../system/library/procedures/charge-volts.yaml")
	if err != nil {
		t.Fatal(err)
	}
	files := fstest.MapFS{
		"p/other.yaml": {Data: good},
		"p/bad.yaml":   {Data: []byte("format: 1\n")},
	}
	_, err = question.Open(files, "p")
	if err == nil || !strings.Contains(err.Error(), "id: other") || !strings.Contains(err.Error(), "bad.yaml:1:1") {
		t.Errorf("both files should be reported: %v", err)
	}
}

func FuzzParse(f *testing.F) {
	for _, pattern := range []string{"testdata/bad/*.yaml", "../system/library/procedures/*.yaml"} {
		names, err := filepath.Glob(pattern)
		if err != nil || len(names) == 0 {
			f.Fatalf("no seeds in %s (%v)", pattern, err)
		}
		for _, name := range names {
			data, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := question.Parse("f", data)
		if (p == nil) == (err == nil) {
			t.Error("a procedure and a problem, or neither")
		}
		if p != nil && len(p.Seek()) == 0 {
			t.Error("a procedure that asks nothing")
		}
	})
}
