package job_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"chargewright/internal/badfile"
	"chargewright/job"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
	"chargewright/unit"
)

// shelf is the shipped library, each system read once.
func shelf(t testing.TB) job.Shelf {
	t.Helper()
	s, err := job.Library()
	if err != nil {
		t.Fatal(err)
	}
	loaded := map[string]*system.System{}
	load := s.System
	s.System = func(id string) (*system.System, error) {
		if loaded[id] == nil {
			x, err := load(id)
			if err != nil {
				return nil, err
			}
			loaded[id] = x
		}
		return loaded[id], nil
	}
	return s
}

// read reads a job whose log is given.
func read(t *testing.T, log string) *job.Job {
	t.Helper()
	j, err := job.Read("job.yaml", []byte("format: 1\nsystem: isolated-earth-side\n"+log), shelf(t))
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func stands(j *job.Job, s rig.State, place string) string {
	for i, p := range j.System.Rig.Places {
		if p.ID == place {
			return p.Positions[s.At(i)].ID
		}
	}
	return "no such place"
}

// near compares SI values that went through one or two conversions.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b)) }

func TestBadFiles(t *testing.T) {
	s := shelf(t)
	badfile.Run(t, "testdata/bad", func(file string, data []byte) error {
		_, err := job.Read(file, data, s)
		return err
	})
}

// TestFrozenFiles: job files of every format that was ever shipped still read.
// These files are never changed; new ones are added.
func TestFrozenFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/v*/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no frozen files (%v)", err)
	}
	s := shelf(t)
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		j, err := job.Read(file, data, s)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if want := bytes.Count(data, []byte("# is a reading")); len(j.Readings) != want {
			t.Errorf("%s: %d readings, the file marks %d", file, len(j.Readings), want)
		}
	}
}

func TestOneLineForms(t *testing.T) {
	j := read(t, `
log:
  - battery-rest-volts: 12,21 V
  - look-belt: slack
  - charge-volts: ["13,4 V", 9.0 A]
`)
	if len(j.Readings) != 3 {
		t.Fatalf("%d readings", len(j.Readings))
	}
	rest, belt, charge := j.Readings[0], j.Readings[1], j.Readings[2]
	if rest.ID != "r1" || !near(rest.Values[0].X, 12.21) || rest.Values[0].How != question.Measured {
		t.Errorf("first reading %+v", rest)
	}
	if belt.Values[0].How != question.Class || belt.Values[0].Class != "slack" {
		t.Errorf("look %+v", belt.Values)
	}
	if len(charge.Values) != 2 || !near(charge.Values[0].X, 13.4) || !near(charge.Values[1].X, 9) {
		t.Errorf("two values %+v", charge.Values)
	}
	if len(charge.Values) != len(charge.Question.Seek) {
		t.Error("values and observables differ in number")
	}
	// closed form: 1250 turns a minute, the engine place's position "fast"
	if !near(charge.Question.Setup.Engine, unit.FromRPM(1250)) {
		t.Errorf("engine at %v", charge.Question.Setup.Engine)
	}
	if got := stands(j, j.Rig, "engine"); got != "fast" {
		t.Errorf("after it the engine stands at %q", got)
	}
}

// TestReadingsShorthand: readings is a log of readings only.
func TestReadingsShorthand(t *testing.T) {
	long := read(t, "log:\n  - battery-rest-volts: 12.21 V\n  - reading: {procedure: look-belt, value: slack}\n")
	short := read(t, "readings:\n  - battery-rest-volts: 12.21 V\n  - {procedure: look-belt, value: slack}\n")
	if a, b := readings(t, long), readings(t, short); a != b {
		t.Errorf("long\n%s\nshort\n%s", a, b)
	}
}

func readings(t *testing.T, j *job.Job) string {
	t.Helper()
	b, err := json.Marshal(j.Readings)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestValueForms(t *testing.T) {
	for _, c := range []struct {
		text string
		want question.Value
	}{
		{"over 10 A", question.Value{How: question.Over, Lo: 10}},
		{"above 400 mA", question.Value{How: question.Over, Lo: 0.4}},
		{"under 0.1 A", question.Value{How: question.Under, Hi: 0.1}},
		{"between 2 A and 3 A", question.Value{How: question.Between, Lo: 2, Hi: 3}},
		{"2 to 3 A", question.Value{How: question.Between, Lo: 2, Hi: 3}},
		{"-250 mA to 0.5 A", question.Value{How: question.Between, Lo: -0.25, Hi: 0.5}},
		{"-4.5 A", question.Value{How: question.Measured, X: -4.5}},
		{"not taken: lead too short", question.Value{How: question.NotTaken, Why: "lead too short"}},
	} {
		j := read(t, "log:\n  - reading: {quantity: amps, through: w-field, value: \""+c.text+"\"}\n")
		got := j.Readings[0].Values[0]
		if got.How != c.want.How || got.Why != c.want.Why || !near(got.X, c.want.X) || !near(got.Lo, c.want.Lo) || !near(got.Hi, c.want.Hi) {
			t.Errorf("%s reads as %+v, want %+v", c.text, got, c.want)
		}
	}
}

func TestFreeReading(t *testing.T) {
	j := read(t, `
log:
  - charge-volts: [13.4 V, 9.0 A]
  - reading: {between: [stud, batp], quantity: volts, value: "0,61 V", u: 5 mV, with: {output-amps: 18.6 A, engine: 1180 rpm}, held: {bank-amps: 20 A}, showing: no, seat: 3}
`)
	r := j.Readings[1]
	o := r.Question.Seek
	if o[0].Kind != question.Volts || o[0].Red != "stud" || o[0].Black != "batp" || o[0].Meter != "dmm" {
		t.Errorf("observable %+v", o[0])
	}
	if !near(r.Values[0].X, 0.61) || !near(r.Values[0].U, 0.005) {
		t.Errorf("value %+v", r.Values[0])
	}
	// j-stud runs from the stud outwards, so current out of the machine is positive.
	if o[1].Kind != question.Amps || o[1].Through != "j-stud" || !near(r.Values[1].X, 18.6) {
		t.Errorf("output amps %+v %+v", o[1], r.Values[1])
	}
	if o[2].Kind != question.Speed || !near(r.Values[2].X, unit.FromRPM(1180)) {
		t.Errorf("engine %+v %+v", o[2], r.Values[2])
	}
	s := r.Question.Setup
	if !near(s.Engine, unit.FromRPM(1180)) {
		t.Errorf("the speed that was read is not the one in the setup: %v", s.Engine)
	}
	if len(s.Hold) != 1 || s.Hold[0].What != "bank-amps" || s.Hold[0].Target != 20 {
		t.Errorf("held %+v", s.Hold)
	}
	if got := stands(j, s.Rig, "load-bank"); got != "drawing" {
		t.Errorf("20 A is held and the load tester is %q", got)
	}
	if r.Seat != 3 || r.Showing != question.NotNow {
		t.Errorf("seat %d, showing %q", r.Seat, r.Showing)
	}
	all := strings.Join(j.Assumed, "\n")
	for _, want := range []string{"r2: no hook-up was given", "bank-amps is held", "no complaint", "no ambient temperature"} {
		if !strings.Contains(all, want) {
			t.Errorf("not said: %q in\n%s", want, all)
		}
	}
}

// TestNothingAssumedWhenSaid: a file that says everything leaves nothing to
// take for granted.
func TestNothingAssumedWhenSaid(t *testing.T) {
	j := read(t, `
complaint: {kind: no-charge, when: bumps}
conditions: {ambient: 18 degC, regulator: 60 degC}
log:
  - battery-rest-volts: 12.21 V
  - reading: {between: [stud, batp], quantity: volts, value: 0 V, rig: {engine: "off"}}
`)
	if len(j.Assumed) != 0 {
		t.Errorf("assumed: %v", j.Assumed)
	}
	if !slices.Equal(j.Complaint.When, []string{"vibration"}) {
		t.Errorf("bumps reads as %v", j.Complaint.When)
	}
	s := j.Readings[0].Question.Setup
	if !near(s.Ambient.K, 291.15) || s.Ambient.Derive || !s.Battery.Derive || !near(s.Reg.K, 333.15) {
		t.Errorf("temperatures %+v", s)
	}
}

// TestCorrections: a correction replaces the reading's own values, leaves what
// stood on the other meters, and leaves the entry as it was made.
func TestCorrections(t *testing.T) {
	j := read(t, `
log:
  - reading: {id: first, procedure: charge-volts, values: [134 V, 9.0 A], with: {engine: 1300 rpm}}
  - correct: {id: first, values: [13.4 V, 9.0 A], why: decimal point}
`)
	r := j.Readings[0]
	if len(r.Values) != 3 || !near(r.Values[0].X, 13.4) || !near(r.Values[2].X, unit.FromRPM(1300)) {
		t.Errorf("values %+v", r.Values)
	}
	if b, ok := j.Entries[0].Body.(job.ReadingBody); !ok || b.Values[0].X != 134 {
		t.Errorf("the entry was changed: %+v", j.Entries[0].Body)
	}
	if e := j.Entries[1]; e.Kind != job.Corrected || e.Reading != 0 || e.ID != "first" {
		t.Errorf("entry %+v", e)
	}
}

// TestEpochs: readings know how many repairs came before them.
func TestEpochs(t *testing.T) {
	j := read(t, `
log:
  - battery-rest-volts: 12.21 V
  - could-not: {procedure: battery-density, why: caps glued}
  - repair: {part: earths, what: cleaned, cured: no}
  - battery-rest-volts: 12.3 V
  - repair: {what: tightened, cured: unknown}
  - correct: {id: r1, value: 12.11 V, why: misread}
  - battery-density: ["1.240", "1.250"]
`)
	var got []int
	for _, r := range j.Readings {
		got = append(got, r.Epoch)
	}
	if !slices.Equal(got, []int{0, 1, 2}) {
		t.Errorf("epochs %v", got)
	}
	if j.Epoch != 2 || len(j.Repairs) != 2 || j.Repairs[1].Epoch != 2 || j.Repairs[0].ID != "repair-1" || j.Repairs[0].Cured != "no" {
		t.Errorf("repairs %+v", j.Repairs)
	}
	if len(j.CouldNot) != 0 {
		t.Errorf("taken after all, still could not: %v", j.CouldNot)
	}
	if e := j.Entries[5]; e.Epoch != 2 {
		t.Errorf("the correction was made in epoch %d", e.Epoch)
	}
}

// TestRig follows the hook-up through a log.
func TestRig(t *testing.T) {
	j := read(t, `
log:
  - charge-volts: [13.4 V, 9.0 A]
  - rig: {engine: "off", ignition: "off", earth-cable: "off"}
  - reading: {quantity: ohms, between: [stud, ring], value: 0.3 Ohm}
  - rig: {earth-cable: "on"}
  - rig: {engine: idle}
  - drop-feed: [0.4 V, 20 A]
`)
	at := func(entry int, place string) string { return stands(j, j.Entries[entry].Rig, place) }
	for _, c := range []struct {
		entry       int
		place, want string
		why         string
	}{
		{0, "engine", "fast", "the procedure asks for it"},
		{0, "brake", "held", "R1: the way to a running engine leads there"},
		{1, "earth-cable", "off", "found so"},
		{1, "engine", "off", "found so"},
		{2, "earth-cable", "off", "the last hook-up in the log"},
		{3, "earth-cable", "on", "found so"},
		{4, "engine", "idle", "found so"},
		{4, "ignition", "on", "an engine that turns has its ignition on"},
		{5, "load-bank", "drawing", "the procedure asks for it"},
	} {
		if got := at(c.entry, c.place); got != c.want {
			t.Errorf("after entry %d %s is %s, want %s: %s", c.entry, c.place, got, c.want, c.why)
		}
	}
	for i, e := range j.Entries {
		if ok, broken := j.System.Rig.Allowed(e.Rig); !ok {
			t.Errorf("after entry %d the hook-up is against %v", i, broken)
		}
	}
	if !strings.Contains(strings.Join(j.Assumed, "\n"), "the rest must stand so") {
		t.Errorf("ignition was set without a word: %v", j.Assumed)
	}
}

// TestFoundAgainstTheRules: a vehicle found in a forbidden state is recorded as
// it is, and said to be.
func TestFoundAgainstTheRules(t *testing.T) {
	j := read(t, "log:\n  - rig: {engine: fast, output-lead: \"off\"}\n")
	if stands(j, j.Rig, "engine") != "fast" || stands(j, j.Rig, "output-lead") != "off" {
		t.Error("what was found is not what is recorded")
	}
	if all := strings.Join(j.Assumed, "\n"); !strings.Contains(all, "put that right first") {
		t.Errorf("nothing is said about it: %s", all)
	}
}

// TestStatedAgainstTheProcedure: what was seen wins over what the procedure
// asks for, and is said.
func TestStatedAgainstTheProcedure(t *testing.T) {
	j := read(t, `
log:
  - reading: {procedure: charge-volts, values: [13.4 V, 9.0 A], rig: {engine: idle}}
`)
	if got := stands(j, j.Rig, "engine"); got != "idle" {
		t.Errorf("engine %s", got)
	}
	// closed form: 700 turns a minute, the engine place's position "idle"
	if e := j.Readings[0].Question.Setup.Engine; !near(e, unit.FromRPM(700)) {
		t.Errorf("engine turns at %v", e)
	}
	if all := strings.Join(j.Assumed, "\n"); !strings.Contains(all, "where the procedure asks for held at 1250 rpm") {
		t.Errorf("not said: %s", all)
	}
}

// TestNoWayThere: a reading said to be taken in a hook-up that no rule allows is
// kept as it is said, and that is said too.
func TestNoWayThere(t *testing.T) {
	j := read(t, `
log:
  - reading: {procedure: charge-volts, values: [13.4 V, 9.0 A], rig: {output-lead: "off"}}
`)
	if stands(j, j.Rig, "engine") != "fast" || stands(j, j.Rig, "output-lead") != "off" {
		t.Error("the hook-up is not the one that was stated")
	}
	if all := strings.Join(j.Assumed, "\n"); !strings.Contains(all, "no way leads there by the rules") || !strings.Contains(all, "R4") {
		t.Errorf("not said: %s", all)
	}
}

// TestOtherMeters: what is read beside a reading becomes observables of it, each
// where the system has it, current positive out of the machine, into the
// battery and into the field.
func TestOtherMeters(t *testing.T) {
	j := read(t, `
log:
  - reading: {procedure: battery-rest-volts, value: 12.2 V, with: {battery-amps: -4 A, field-amps: 0.1 A, battery-volts: 12.2 V, bank-amps: 25 A}}
`)
	r := j.Readings[0]
	var got []string
	for i, o := range r.Question.Seek {
		got = append(got, o.Through+o.Red+" "+unit.Format(map[bool]unit.Dim{true: unit.Amp, false: unit.Volt}[o.Kind == question.Amps], r.Values[i].X))
	}
	if want := []string{"batp 12.2 V", "j-pos-clamp -4 A", "brush-a 100 mA", "batp 12.2 V"}; !slices.Equal(got, want) {
		t.Errorf("observables %q, want %q", got, want)
	}
	if h := r.Question.Setup.Hold; len(h) != 1 || h[0].Target != 25 {
		t.Errorf("what the load tester itself shows is what is held: %+v", h)
	}
}

func FuzzRead(f *testing.F) {
	for _, pattern := range []string{"testdata/v1/*.yaml", "testdata/bad/*.yaml"} {
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
	s := shelf(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		events, err := job.Parse("f", data, s)
		if err != nil {
			return
		}
		// What the parser lets through, the fold must take.
		j, err := job.Fold(events, s)
		if err != nil {
			t.Fatalf("parsed, and then: %v", err)
		}
		for _, r := range j.Readings {
			if len(r.Values) != len(r.Question.Seek) {
				t.Errorf("%s: %d values for %d observables", r.ID, len(r.Values), len(r.Question.Seek))
			}
		}
	})
}
