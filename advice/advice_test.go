package advice

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
	"chargewright/truth"
)

// prepared is the reference system, made once for all tests.
var prepared = sync.OnceValues(func() (*Prepared, error) {
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		return nil, err
	}
	practice, err := system.DefaultPractice()
	if err != nil {
		return nil, err
	}
	procs, err := question.Library()
	if err != nil {
		return nil, err
	}
	return Prepare(sys, practice, procs, DefaultSettings())
})

func ready(t *testing.T) *Prepared {
	t.Helper()
	p, err := prepared()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// day is 20 degC, known to 2 K.
var day = question.Setup{
	Ambient: question.Temp{K: 293.15, U: 2}, Battery: question.Temp{Derive: true},
	Reg: question.Temp{Derive: true}, Rotor: question.Temp{Derive: true},
}

// taken are noise-free readings of a vehicle with a fault, its figures at their
// medians and its magnitude in the middle of the range.
func taken(t *testing.T, p *Prepared, fault string, procedures ...string) []question.Reading {
	t.Helper()
	v := truth.Sound(p.model)
	if fault != "" {
		i, ok := p.model.FaultIndex(fault)
		if !ok {
			t.Fatalf("no fault %s", fault)
		}
		v.Fault.Faults = []int{i}
		if m := p.System.Faults[i].Magnitude; m != nil {
			v.Comp.Mean[0], _ = prediction.MagnitudeComponent(m, 1, 3)
		}
	}
	var out []question.Reading
	at := p.System.Rig.Rest
	for _, id := range procedures {
		proc := p.Catalogue[id]
		target, err := proc.Target(p.System)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := p.System.Rig.Path(at, target)
		if err != nil {
			t.Fatal(err)
		}
		q := question.Question{Procedure: id, Setup: day, Seek: proc.Seek()}
		q.Setup.Rig, q.Setup.Engine, q.Setup.Hold = plan.Final, question.EngineSpeed(&p.System.Rig, plan.Final), proc.Hold
		at = plan.Final
		values, err := v.Table(p.model, truth.Looks{Procedures: p.Catalogue, Seed: 1}).Answer(q)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, question.Reading{ID: "r" + string(rune('1'+len(out))), Question: q, Values: values})
	}
	return out
}

func ask(t *testing.T, in Input) Advice {
	t.Helper()
	in.Prepared, in.Day, in.Settings = ready(t), day, DefaultSettings()
	if in.Rig == 0 && len(in.Readings) > 0 {
		in.Rig = in.Readings[len(in.Readings)-1].Question.Setup.Rig
	}
	a, err := Ask(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// TestProbabilitiesSum: suspects, no fault and none of these are everything.
// Tolerance 1e-6: they are sums of some two hundred rounded terms.
func TestProbabilitiesSum(t *testing.T) {
	p := ready(t)
	for _, in := range []Input{
		{},
		{Complaint: "no-charge", Readings: taken(t, p, "rotor-open", "charge-volts", "field-ends")},
		{Readings: taken(t, p, "", "charge-volts", "loaded-output")},
	} {
		a := ask(t, in)
		sum := a.NoFault + a.NoneOfThese
		for _, s := range a.Suspects {
			own := 0.0
			for _, f := range s.Faults {
				own += f.Share
			}
			if math.Abs(own-s.Probability) > 1e-9 {
				t.Errorf("%s: shares sum to %g, the suspect has %g", s.ID, own, s.Probability)
			}
			sum += s.Probability
		}
		if math.Abs(sum-1) > 1e-6 {
			t.Errorf("probabilities sum to %.9f", sum)
		}
		if _, err := json.Marshal(a); err != nil {
			t.Errorf("not JSON: %v", err)
		}
	}
}

// TestComplaintsFile: every row sums to one and names a kind that jobs know.
func TestComplaintsFile(t *testing.T) {
	c, err := complaintTable()
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range c.heard {
		sum := 0.0
		for _, p := range row {
			sum += p
		}
		if math.Abs(sum-1) > 1e-9 || len(row) != len(c.kinds) {
			t.Errorf("%s: %d chances that sum to %g", doingNames[i], len(row), sum)
		}
	}
}

// TestWhatFaultsDo: the model's own consequences, as the trade knows them
// (review of the trade; common practice): an open rotor charges nothing, a
// control wire on earth boils the battery, a drain drains, a sound car is right.
func TestWhatFaultsDo(t *testing.T) {
	p := ready(t)
	for fault, want := range map[string]int{
		"rotor-open": doesNothing, "belt-broken": doesNothing, "control-wire-earthed": doesHigh,
		"diode-short": doesWeak, "drain": doesDrain, "battery-worn": doesTired, "": doesRight,
	} {
		at := len(p.System.Faults)
		if fault != "" {
			at, _ = p.model.FaultIndex(fault)
		}
		for k, v := range p.does[at] {
			if k != want && v > p.does[at][want] {
				t.Errorf("%q does %s with %.2f, %s with %.2f", fault, doingNames[k], v, doingNames[want], p.does[at][want])
			}
		}
	}
}

// TestComplaintMovesOdds: hearing of overcharge makes its causes likelier and
// its opposite less so.
func TestComplaintMovesOdds(t *testing.T) {
	share := func(a Advice, fault string) float64 {
		for _, s := range a.Suspects {
			for _, f := range s.Faults {
				if f.Fault == fault {
					return f.Share
				}
			}
		}
		return 0
	}
	plain, heard := ask(t, Input{}), ask(t, Input{Complaint: "overcharge"})
	if up := share(heard, "control-wire-earthed") / share(plain, "control-wire-earthed"); up < 3 {
		t.Errorf("overcharge makes the earthed control wire only %.1f times likelier", up)
	}
	if down := share(heard, "rotor-open") / share(plain, "rotor-open"); down > 0.5 {
		t.Errorf("overcharge leaves the open rotor at %.2f of what it was", down)
	}
	if heard.Complaint == nil || heard.Complaint.Basis == "" {
		t.Error("the shift of the charge is not stated with its basis")
	}
}

// TestRefusals: vehicles that the system is not for are refused with words, and
// a note that says the opposite is not.
func TestRefusals(t *testing.T) {
	sys := ready(t).System
	for note, rule := range map[string]string{
		"mild hybrid, 2019": "R35", "electric vehicle": "R35", "positive earth": "R33", "dynamo with control box": "R33",
		"supply-side regulator on the wing": "R33", "not a hybrid": "", "no dynamo, an alternator": "", "blue saloon": "",
	} {
		err := refuse(sys, Vehicle{Note: note})
		var r *Refusal
		switch {
		case rule == "" && err != nil:
			t.Errorf("%q: %v", note, err)
		case rule != "" && (!errors.As(err, &r) || r.Rule != rule):
			t.Errorf("%q: %v, want %s", note, err, rule)
		}
	}
	fed, err := system.ByID("supply-side-contact")
	if err != nil {
		t.Fatal(err)
	}
	for note, rule := range map[string]string{"regulator on the earth side": "R33", "three-way plug": "R33", "one field terminal": ""} {
		if err := refuse(fed, Vehicle{Note: note}); (err != nil) != (rule != "") || err != nil && !strings.Contains(err.Error(), rule) {
			t.Errorf("%s, %q: %v, want %q", fed.ID, note, err, rule)
		}
	}
	for volts, rule := range map[float64]string{60: "R35", 24: "R38", 12: ""} {
		err := refuse(sys, Vehicle{Volts: volts})
		if (err != nil) != (rule != "") || err != nil && !strings.Contains(err.Error(), rule) {
			t.Errorf("%g V: %v, want %q", volts, err, rule)
		}
	}
}

// TestBarred: a clamp to hand bars the ammeter in series on the same wire; with
// no clamp it is offered; what could not be done stays barred.
func TestBarred(t *testing.T) {
	d, err := ready(t).Desk("")
	if err != nil {
		t.Fatal(err)
	}
	with := d.Barred([]string{"dmm", "dc-clamp", "shunt-ammeter"}, map[string]string{"look-belt": "cover on"})
	without := d.Barred([]string{"dmm", "shunt-ammeter"}, nil)
	if !with["output-amps-series"] || without["output-amps-series"] {
		t.Errorf("ammeter in series barred with a clamp: %v, without: %v", with["output-amps-series"], without["output-amps-series"])
	}
	if !without["charge-volts"] || with["charge-volts"] {
		t.Error("a procedure with a clamp wants one")
	}
	if !with["look-belt"] || without["look-belt"] {
		t.Error("what could not be done is barred, and nothing else")
	}
}

// TestEvidenceNamesTheFault: at the likeliest fault the readings that only it
// explains speak for it.
func TestEvidenceNamesTheFault(t *testing.T) {
	a := ask(t, Input{Complaint: "no-charge", Readings: taken(t, ready(t), "rotor-open", "charge-volts", "field-ends", "field-draw")})
	if a.Suspects[0].ID != "rotor-open" && !slices.ContainsFunc(a.Suspects[0].Faults, func(s Share) bool { return s.Fault == "rotor-open" }) {
		t.Fatalf("first suspect is %s", a.Suspects[0].ID)
	}
	sum := 0.0
	for _, id := range a.Order {
		sum += a.Readings[id].Bits["rotor-open"]
	}
	if sum <= 1 {
		t.Errorf("all readings together give the open rotor %.2f bits", sum)
	}
}

// TestJointHeat: the resistance of a corroded joint with the heat that it makes,
// I squared R (closed form: Joule).
func TestJointHeat(t *testing.T) {
	a := ask(t, Input{Complaint: "low-charge", Readings: taken(t, ready(t), "feed-joint-ammeter", "stud-volts", "drop-feed", "walk-ammeter-in")})
	if len(a.Joints) != 1 || a.Joints[0].ID != "j-am-in" {
		t.Fatalf("joints %+v under %s", a.Joints, a.Suspects[0].ID)
	}
	j := a.Joints[0]
	if math.Abs(j.Watts-j.Amps*j.Amps*j.Ohms) > 1e-9*j.Watts || j.Amps <= 0 || !(j.Low < j.Ohms && j.Ohms < j.High) {
		t.Errorf("%+v", j)
	}
}

// TestNextIsSafeAndWhole: a step names its moves with their cautions, where they
// lead, and what it takes for granted.
func TestNextIsSafeAndWhole(t *testing.T) {
	p := ready(t)
	a := ask(t, Input{})
	if len(a.Next) == 0 {
		t.Fatal("nothing to do next")
	}
	for _, s := range a.Next {
		if s.Body.Procedure == "" {
			continue
		}
		at := p.System.Rig.Rest
		for _, m := range s.Hookup {
			at = move(t, p, at, m)
			if ok, broken := p.System.Rig.Allowed(at); !ok {
				t.Errorf("%s: the hook-up goes through a state against %s", s.Body.Procedure, broken[0].Rule)
			}
		}
		for i, place := range p.System.Rig.Places {
			if s.ToRig[place.ID] != place.Positions[at.At(i)].ID {
				t.Errorf("%s: the moves end with %s at %s, to_rig says %s", s.Body.Procedure, place.ID, place.Positions[at.At(i)].ID, s.ToRig[place.ID])
			}
		}
		if len(s.Expect) == 0 || len(s.Confirm) == 0 || len(s.Body.Lines) == 0 {
			t.Errorf("%s: %d expectations, %d places to see, %d lines", s.Body.Procedure, len(s.Expect), len(s.Confirm), len(s.Body.Lines))
		}
	}
}

func move(t *testing.T, p *Prepared, s rig.State, m Move) rig.State {
	t.Helper()
	for i, place := range p.System.Rig.Places {
		if place.ID != m.Place {
			continue
		}
		if place.Positions[s.At(i)].ID != m.From {
			t.Fatalf("%s moves from %s and stands at %s", m.Place, m.From, place.Positions[s.At(i)].ID)
		}
		for k, q := range place.Positions {
			if q.ID == m.To {
				return s.With(i, k)
			}
		}
	}
	t.Fatalf("no move of %s to %s", m.Place, m.To)
	return s
}

// TestRepairEndsIt: after the cure and readings that a sound car gives, nothing
// on the list is left, and the repair stands among what was done.
func TestRepairEndsIt(t *testing.T) {
	p := ready(t)
	before := taken(t, p, "rotor-open", "charge-volts", "field-ends", "field-draw")
	after := taken(t, p, "", "charge-volts", "loaded-output", "drop-feed-lamps", "drop-earth-lamps")
	for i := range after {
		after[i].ID, after[i].Epoch = "after"+after[i].ID, 1
	}
	a := ask(t, Input{
		Complaint: "no-charge", Readings: append(before, after...),
		Repairs: []Repair{{ID: "repair-1", Repair: "exchange-alternator", Cured: diagnosis.Yes}},
	})
	if a.Mended < 0.9 {
		t.Errorf("nothing left with %.3f only; first %s %.3f", a.Mended, a.Suspects[0].ID, a.Suspects[0].Probability)
	}
	if len(a.Repairs) != 1 || a.Repairs[0].Name == "" || !a.Suspects[0].Mended {
		t.Errorf("repairs %+v, first suspect mended: %v", a.Repairs, a.Suspects[0].Mended)
	}
}

// TestRangeWarning: a clamp of 20 A on a starter's current warns.
func TestRangeWarning(t *testing.T) {
	p := ready(t)
	d, err := p.Desk("")
	if err != nil {
		t.Fatal(err)
	}
	b, err := diagnosis.Begin(d.Prior)
	if err != nil {
		t.Fatal(err)
	}
	proc, _ := d.Board.Procedure("crank-volts")
	q := d.Board.Question(slices.Index(d.Board.Procs, proc), day)
	for meter, want := range map[string]int{"ma-clamp": 1, "dc-clamp": 0} {
		q.Seek = []question.Observable{{Kind: question.Amps, Through: "w-battery", Meter: meter, Note: "starter amps"}}
		out := Step{}
		if err := d.expect(&out, &b, planning.Step{Procedure: proc, Question: q}); err != nil {
			t.Fatal(err)
		}
		if len(out.Warn) != want {
			t.Errorf("%s: %d warnings %q, want %d", meter, len(out.Warn), out.Warn, want)
		}
	}
}
