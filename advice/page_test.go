package advice_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"chargewright/advice"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

var prepared = sync.OnceValues(func() (*advice.Prepared, error) {
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
	return advice.Prepare(sys, practice, procs, advice.DefaultSettings())
})

// pageJob is a job of which some readings are known: procedure, then values.
func pageJob(t *testing.T, readings ...any) advice.Input {
	t.Helper()
	p, err := prepared()
	if err != nil {
		t.Fatal(err)
	}
	in := advice.Input{
		Prepared: p, Settings: advice.DefaultSettings(), Complaint: "low-charge", Rig: p.System.Rig.Rest, Meters: []string{"dmm", "dc-clamp"},
		Day: question.Setup{Ambient: question.Temp{K: 291, U: 2}, Battery: question.Temp{Derive: true}, Reg: question.Temp{Derive: true}, Rotor: question.Temp{Derive: true}},
	}
	d, err := p.Shared(in.Complaint)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(readings); i += 2 {
		k := slices.IndexFunc(d.Board.Procs, func(x *question.Procedure) bool { return x.ID == readings[i] })
		q := d.Board.Question(k, in.Day)
		way, err := d.Board.Way(in.Rig, k)
		if err != nil {
			t.Fatal(err)
		}
		q.Setup.Rig, in.Rig = way.Final, way.Final
		r := question.Reading{ID: "r" + string(rune('1'+i/2)), Question: q, Basis: "entered"}
		for _, x := range readings[i+1].([]float64) { //nolint:errcheck // the test's own list
			r.Values = append(r.Values, question.Value{How: question.Measured, X: x})
		}
		in.Readings = append(in.Readings, r)
	}
	return in
}

func standing(t *testing.T, in advice.Input) *advice.Standing {
	t.Helper()
	s, err := advice.Stand(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestThenIsStand: going on from what is known gives what standing anew gives,
// so that it does not matter when somebody looked; a repair and what is read after
// it as well.
func TestThenIsStand(t *testing.T) {
	all := pageJob(t, "charge-volts", []float64{14.03, 11.8}, "drop-feed", []float64{1.98, 24.6}, "walk-bulkhead-a", []float64{1.57, 25.2})
	s := standing(t, pageJob(t))
	for n := 1; n <= len(all.Readings); n++ {
		in := all
		in.Readings = all.Readings[:n:n]
		s = then(t, s, in)
	}
	sameStanding(t, s, standing(t, all))
	mended := pageJob(t, "charge-volts", []float64{14.03, 11.8}, "drop-feed", []float64{1.98, 24.6}, "walk-bulkhead-a", []float64{1.57, 25.2}, "idle-volts", []float64{13.98, 11.2})
	mended.Readings[3].Epoch = 1
	mended.Repairs = []advice.Repair{{ID: "repair-1", Repair: "mend-bulkhead", Cured: "yes"}}
	sound := mended
	sound.Readings = mended.Readings[:3:3]
	sameStanding(t, then(t, then(t, s, sound), mended), standing(t, mended))
	// Standing takes readings one by one, diagnose all at once: the same verdict.
	a, err := advice.Ask(t.Context(), all)
	if err != nil {
		t.Fatal(err)
	}
	if a.Suspects[0].ID != s.Advice.Suspects[0].ID || math.Abs(a.Suspects[0].Probability-s.Advice.Suspects[0].Probability) > 0.02 {
		t.Errorf("%s %.3f, the page says %s %.3f", a.Suspects[0].ID, a.Suspects[0].Probability, s.Advice.Suspects[0].ID, s.Advice.Suspects[0].Probability)
	}
}

func then(t *testing.T, s *advice.Standing, in advice.Input) *advice.Standing {
	t.Helper()
	out, err := s.Then(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// sameStanding compares causes, letters and what the repairs left.
func sameStanding(t *testing.T, s, fresh *advice.Standing) {
	t.Helper()
	if len(s.Advice.Suspects) != len(fresh.Advice.Suspects) || math.Abs(s.Advice.Mended-fresh.Advice.Mended) > 1e-9 {
		t.Fatalf("%d causes, nothing left %.9f; anew %d and %.9f", len(s.Advice.Suspects), s.Advice.Mended, len(fresh.Advice.Suspects), fresh.Advice.Mended)
	}
	for i, x := range fresh.Advice.Suspects {
		y := s.Advice.Suspects[i]
		if x.ID != y.ID || math.Abs(x.Probability-y.Probability) > 1e-9 || fresh.Letter(x.ID) != s.Letter(y.ID) {
			t.Fatalf("%d: %s %.9f %s, anew %s %.9f %s", i, y.ID, y.Probability, s.Letter(y.ID), x.ID, x.Probability, fresh.Letter(x.ID))
		}
	}
}

// TestLettersStay: a cause keeps its letter whatever is read later.
func TestLettersStay(t *testing.T) {
	before := standing(t, pageJob(t, "charge-volts", []float64{14.03, 11.8}))
	after := standing(t, pageJob(t, "charge-volts", []float64{14.03, 11.8}, "drop-feed", []float64{1.98, 24.6}))
	seen := map[string]string{}
	for _, p := range before.Portions() {
		if p.Letter == "" && p.ID != "others" {
			t.Errorf("%s is shown without a letter", p.Name)
		}
		if other := seen[p.Letter]; other != "" {
			t.Errorf("%s and %s share the letter %s", p.ID, other, p.Letter)
		}
		seen[p.Letter] = p.ID
		if p.ID != "others" && after.Letter(p.ID) != p.Letter {
			t.Errorf("%s was %s and is %s", p.ID, p.Letter, after.Letter(p.ID))
		}
	}
	total := 0.0
	for _, p := range after.Portions() {
		total += p.Share
	}
	if math.Abs(total-1) > 0.006 {
		t.Errorf("the portions add up to %.4f", total)
	}
}

// TestStrip: positions run along the axis, humps are highest at one, the limit
// stands where its figure does, and the zones are right: in the middle of a zone
// its causes have four fifths.
func TestStrip(t *testing.T) {
	s := standing(t, pageJob(t, "charge-volts", []float64{14.03, 11.8}))
	step, err := s.Take("drop-feed")
	if err != nil {
		t.Fatal(err)
	}
	if len(step.Strips) != 2 {
		t.Fatalf("%d strips for two boxes", len(step.Strips))
	}
	st := &step.Strips[0]
	last := -1.0
	for _, k := range st.Ticks {
		if k.At <= last || k.At < 0 || k.At > 1 {
			t.Errorf("tick %q at %.3f after %.3f", k.Text, k.At, last)
		}
		last = k.At
	}
	for _, r := range st.Rows {
		top := 0.0
		for _, h := range r.Hump {
			top = math.Max(top, h.Y)
			if h.X < 0 || h.X > 1 || h.Y < 0 || h.Y > 1.000001 {
				t.Fatalf("%s: a point of its hump at %v", r.Name, h)
			}
		}
		if r.Fill != "empty" && top < 0.999 {
			t.Errorf("%s: its hump reaches %.3f", r.Name, top)
		}
	}
	if at, ok := st.At(0.7); !ok || st.Limit == nil || st.Limit.High == nil || math.Abs(at-*st.Limit.High) > 1e-9 {
		t.Errorf("0.7 V stands at %.3f (%v), its limit at %+v", at, ok, st.Limit)
	}
	for i, z := range st.Zones {
		if z.To <= z.From || i > 0 && z.From < st.Zones[i-1].To-1e-9 {
			t.Errorf("zone %d runs from %.2f to %.2f", i, z.From, z.To)
		}
	}
	looks, err := s.Take("look-belt")
	if err != nil || len(looks.Looks) != len(looks.Body.Classes) {
		t.Errorf("%d answers are told of, %d can be given (%v)", len(looks.Looks), len(looks.Body.Classes), err)
	}
}

// TestDoubts: a slip of the unit is asked about, with what was probably meant.
func TestDoubts(t *testing.T) {
	s := standing(t, pageJob(t))
	step, err := s.Take("battery-rest-volts")
	if err != nil {
		t.Fatal(err)
	}
	st := &step.Strips[0]
	for x, want := range map[float64]string{12.4: "", 11: "", 12400: "12.4", 0.0124: "12.4", 420: "", -12.4: "12.4", 124: "12.4", 1240: "12.4", 1.24: "12.4"} {
		q := st.Doubts(question.Value{How: question.Measured, X: x})
		if odd := x < 5 || x > 20; odd != (q != nil) {
			t.Errorf("%g V is asked about: %v", x, q)
			continue
		}
		if want != "" && (len(q.Instead) == 0 || !strings.HasPrefix(q.Instead[0].Text, want)) {
			t.Errorf("%g V: offered %+v, want %s", x, q.Instead, want)
		}
	}
	for _, c := range []struct {
		value question.Value
		asks  string // how the question begins; "" = none is asked
	}{
		{question.Value{How: question.Over, Lo: 600}, "Over 600"},   // "over" alone, on a meter that ends there
		{question.Value{How: question.Over, Lo: 12}, ""},            // as good as any reading
		{question.Value{How: question.Over, Lo: 0.1}, ""},           // says little, and nothing odd
		{question.Value{How: question.Under, Hi: 0.5}, "Under 500"}, // a battery that is not there
		{question.Value{How: question.Under, Hi: 12}, ""},
		{question.Value{How: question.Under, Hi: 100}, ""},
		{question.Value{How: question.Between, Lo: 12.1, Hi: 12.4}, ""},
		{question.Value{How: question.Between, Lo: 0, Hi: 12.4}, ""}, // would not hold still
		{question.Value{How: question.Between, Lo: 12.1, Hi: 124}, "124"},
	} {
		q := st.Doubts(c.value)
		if (q != nil) != (c.asks != "") || q != nil && !strings.HasPrefix(q.Ask, c.asks) {
			t.Errorf("%+v is asked about with %+v, want %q", c.value, q, c.asks)
		}
	}
	rotor, err := s.Take("rotor-ohms")
	if err != nil {
		t.Fatal(err)
	}
	if q := rotor.Strips[0].Doubts(question.Value{How: question.Over, Lo: 6e6}); q != nil {
		t.Errorf("an open winding is asked about: %+v", q)
	}
}

// TestDoubtsBeforeItCounts: what was probably meant is named, and a value that the
// meter cannot show or no such vehicle can give is asked about even where nothing is
// expected of it.
func TestDoubtsBeforeItCounts(t *testing.T) {
	s := standing(t, pageJob(t))
	step, err := s.Take("battery-rest-volts")
	if err != nil {
		t.Fatal(err)
	}
	p, _ := s.Board.Procedure("battery-rest-volts")
	o := p.Measure[0]
	for _, c := range []struct {
		x    float64
		step advice.Step
		says []string // nil = it is not asked
	}{
		{12.4, step, nil},
		{1240, step, []string{"Nobody expects more than", "hand-held multimeter ends at 600 V", "Probably a slip of the point: 12.4"}},
		{-12.4, step, []string{"Nobody expects less than", "Probably the leads the other way round: 12.4"}},
		{124, step, []string{"a slip of the point: 12.4", "A vehicle of 12 V cannot give that"}},
		{124, advice.Step{}, []string{"A vehicle of 12 V cannot give that"}},
		{-1240, advice.Step{}, []string{"hand-held multimeter ends at 600 V"}},
		{14, advice.Step{}, nil},
	} {
		q := s.Doubts(&c.step, o, question.Value{How: question.Measured, X: c.x})
		if (q != nil) != (c.says != nil) {
			t.Errorf("%g V is asked about: %+v", c.x, q)
			continue
		}
		for _, say := range c.says {
			if !strings.Contains(strings.ReplaceAll(q.Ask, "\u00a0", " "), say) {
				t.Errorf("%g V: %q does not say %q", c.x, q.Ask, say)
			}
		}
	}
}

// TestProbablyMeant: a reading that was kept with a slip in it says what it was meant
// to be, in words and as a figure.
func TestProbablyMeant(t *testing.T) {
	for x, want := range map[float64]string{
		-12.21: "12.21 V, the leads the other way round", 1221: "12.21 V, a slip of the point", 122.1: "12.21 V, a slip of the point",
	} {
		s := standing(t, pageJob(t, "charge-volts", []float64{12.13, 0}, "battery-rest-volts", []float64{x}))
		r := s.Advice.Readings[s.Advice.Order[1]]
		if got := strings.ReplaceAll(r.Probably(), "\u00a0", " "); got != want {
			t.Errorf("%g V: %q (%.3f wrong), want %q", x, got, r.PWrong, want)
		}
		if m := r.Values[0].Meant; m == nil || m.Value == nil || *m.Value != 12.21 {
			t.Errorf("%g V was meant to be %+v", x, m)
		}
	}
}

// TestLeadsGoOnStopped: whatever is chosen next, from whatever hook-up, no line
// asks for a lead while the engine turns, and every move keeps to the rules.
func TestLeadsGoOnStopped(t *testing.T) {
	running := pageJob(t, "charge-volts", []float64{14.03, 11.8})
	for name, in := range map[string]advice.Input{"at rest": pageJob(t), "running": running} {
		s := standing(t, in)
		for _, w := range s.Ways() {
			if w.Barred != "" || w.Where != "vehicle" {
				continue
			}
			step, err := s.Take(w.ID)
			if err != nil {
				t.Errorf("%s, %s: %v", name, w.ID, err)
				continue
			}
			follow(t, name+", "+w.ID, s, step)
		}
	}
}

// follow walks a step's lines on the system's own rules.
func follow(t *testing.T, name string, s *advice.Standing, step advice.Step) {
	t.Helper()
	r := &s.System.Rig
	at := s.In.Rig
	moves := 0
	for _, l := range s.Lines(step) {
		if len(l.Leads) > 0 && l.Place == "" && question.EngineSpeed(r, at) > 0 && !(strings.Contains(l.Say, "stay") && onAlready(s, l.Leads)) {
			t.Errorf("%s: line %d puts leads on while the engine turns", name, l.N)
		}
		if l.Place == "" {
			continue
		}
		m := step.Hookup[moves]
		moves++
		to, ok := move(r, at, m.Place, m.To)
		if !ok {
			t.Errorf("%s: line %d (%s) breaks a rule", name, l.N, l.Say)
			return
		}
		at = to
	}
	if want, err := r.Target(step.ToRig); err != nil || !r.Meets(at, want) {
		t.Errorf("%s: the lines do not end where the step is read (%v)", name, err)
	}
}

// onAlready says whether leads are where the last reading had them.
func onAlready(s *advice.Standing, leads []advice.Lead) bool {
	last := s.In.Readings[len(s.In.Readings)-1].Question.Seek
	for _, l := range leads {
		on := slices.ContainsFunc(last, func(o question.Observable) bool {
			return l.Red != nil && o.Red == l.Red.ID && o.Black == l.Black.ID || l.Through != nil && o.Through == l.Through.ID
		})
		if !on {
			return false
		}
	}
	return true
}

func move(r *rig.Rig, at rig.State, place, to string) (rig.State, bool) {
	for _, o := range r.Moves(at) {
		p := r.Places[o.Place]
		if p.ID == place && p.Positions[o.Move.To].ID == to {
			next := at.With(o.Place, o.Move.To)
			ok, _ := r.Allowed(next)
			return next, ok
		}
	}
	return at, false
}

// TestFreeIsChecked: a free reading goes through the same checks.
func TestFreeIsChecked(t *testing.T) {
	s := standing(t, pageJob(t, "charge-volts", []float64{14.03, 11.8}))
	for _, c := range []struct{ kind, red, black, why string }{
		{"volts", "stud", "stud", "same point"},
		{"volts", "stud", "moon", "no point"},
		{"volts", "ring-a", "batn", "on the bench only"},
		{"amps", "stud", "batp", "through a wire"},
		{"watts", "stud", "batp", "through a wire"},
	} {
		_, err := s.Free(c.kind, c.red, c.black)
		var refused *advice.Refused
		if !errors.As(err, &refused) || !strings.Contains(refused.What, c.why) || refused.Instead == "" {
			t.Errorf("%v: %v", c, err)
		}
	}
	step, err := s.Free("ohms", "f1", "f2")
	if err != nil {
		t.Fatal(err)
	}
	if step.ToRig["earth-cable"] != "off" || step.ToRig["ignition"] != "off" || step.ToRig["engine"] != "off" {
		t.Errorf("ohms are read with %v", step.ToRig)
	}
	follow(t, "free ohms", s, step)
	if step, err = s.Free("volts", "stud", "batp"); err != nil {
		t.Fatal(err)
	}
	follow(t, "free volts", s, step)
	if _, err := s.FreeAmps("w-charge"); err != nil {
		t.Error(err)
	}
	if _, err := s.FreeAmps("g-jumper"); err == nil {
		t.Error("a clamp meter goes round a gap")
	}
}

// TestCost: what was spent grows with what is done, and nothing is to go once
// the job is mended.
func TestCost(t *testing.T) {
	none := standing(t, pageJob(t)).Cost()
	in := pageJob(t, "charge-volts", []float64{14.03, 11.8}, "drop-feed", []float64{1.98, 24.6})
	some := standing(t, in).Cost()
	if none.Spent != 0 || some.Spent < 5 || some.Spent > 60 || none.ToGo <= 0 || some.End < some.Spent+some.ToGo {
		t.Errorf("%+v, then %+v", none, some)
	}
	in.Repairs = []advice.Repair{{ID: "repair-1", Repair: "mend-bulkhead", Cured: "yes"}}
	done := standing(t, in)
	if c := done.Cost(); c.Spent <= some.Spent {
		t.Errorf("a repair takes %.0f minutes", c.Spent-some.Spent)
	}
	lines := done.Proof()
	if len(lines) != len(advice.ProofReadings()) {
		t.Fatalf("%d lines of proof", len(lines))
	}
	for _, l := range lines {
		if l.After != nil || (l.Procedure == "drop-feed") != (l.Before != nil && l.BeforeID == "r2") && l.Procedure != "charge-volts" {
			t.Errorf("%s: before %v, after %v", l.Procedure, l.BeforeID, l.AfterID)
		}
	}
}

func TestWords(t *testing.T) {
	for _, c := range [][2]string{
		{advice.Percent(0.004), "under\u00a01\u00a0%"},
		{advice.Percent(0.46), "46\u00a0%"},
		{advice.Percent(0.995), "over\u00a099\u00a0%"},
		{advice.Percent(math.NaN()), "not known"},
		{advice.MinutesWords(0.3), "under 1\u00a0min"},
		{advice.MinutesWords(41.4), "41\u00a0min"},
		{advice.MinutesWords(130), "2\u00a0h 10\u00a0min"},
		{advice.Sentence("a thing"), "A thing."},
		{advice.Sentence("Why?"), "Why?"},
		{advice.Sentence(""), ""},
	} {
		if c[0] != c[1] {
			t.Errorf("%q, want %q", c[0], c[1])
		}
	}
}

// TestTellsApart: what a test is for, in words of the workshop: the repair before
// "nothing wrong", and of two cures only what one needs beside the other.
func TestTellsApart(t *testing.T) {
	s := standing(t, pageJob(t))
	for want, c := range map[string][2]string{
		"tells 'Fit a battery' from nothing wrong just now":      {"", "renew-battery"},
		"tells 'Fit a battery' from something not on the list":   {"none-of-these", "renew-battery"},
		"tells 'Fit a battery' from 'Fit a belt'":                {"renew-battery", "fit-belt"},
		"tells whether it needs 'Fit a battery' as well":         {"fit-belt", "fit-belt+renew-battery"},
		"tells 'Fit a belt' from 'Fit brushes, clean the rings'": {"fit-belt+renew-battery", "fit-brushes+renew-battery"},
	} {
		if got := s.TellsApart(c[0], c[1]); got != want {
			t.Errorf("%q: %q, want %q", c, got, want)
		}
	}
}

// TestASlipIsHeldAgainstNoLimit: 123 V at a battery is over its least resting
// voltage, and nobody shall read that it is within the limit.
func TestASlipIsHeldAgainstNoLimit(t *testing.T) {
	for _, c := range []struct {
		volts float64
		want  string
	}{{123, "Most likely a slip"}, {12.6, "Within the limit"}, {11.9, "Under the limit"}} {
		s := standing(t, pageJob(t, "battery-rest-volts", []float64{c.volts}))
		if got := s.Advice.Readings["r1"].Headline(); !strings.Contains(got, c.want) {
			t.Errorf("%g V: %q, want %q", c.volts, got, c.want)
		}
	}
}
