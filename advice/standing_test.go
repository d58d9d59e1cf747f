package advice_test

import (
	"math"
	"reflect"
	"sync"
	"testing"

	"chargewright/advice"
)

// TestATickedLineKeepsThePlan: what every test would say is not worked out again
// when only the hook-up has moved, and the steps are those of a job that is asked
// about from the beginning.
func TestATickedLineKeepsThePlan(t *testing.T) {
	s := standing(t, pageJob(t, "charge-volts", []float64{14.03, 11.8}, "drop-feed", []float64{1.98, 24.6}))
	in := s.In
	step := s.Advice.Next[1]
	in.Leads = s.LeadsOn(step, 1)
	at, ok := move(&s.System.Rig, in.Rig, step.Hookup[0].Place, step.Hookup[0].To)
	if !ok {
		t.Fatalf("%q breaks a rule", step.Hookup[0].Say)
	}
	in.Rig = at
	ticked := then(t, s, in)
	if ticked.Scored() != s.Scored() || s.Scored() == nil {
		t.Error("the tests were scored anew")
	}
	samePlan(t, ticked, standing(t, in))
	in.CouldNot = map[string]string{step.Body.Procedure: "cannot reach the point"}
	barred := then(t, ticked, in)
	if barred.Scored() != s.Scored() {
		t.Error("the tests were scored anew because one cannot be done")
	}
	samePlan(t, barred, standing(t, in))
	in.CouldNot = nil
	if again := then(t, barred, in); again.Scored() != s.Scored() {
		t.Error("the tests were scored anew when it could be done after all")
	}
	cold := in
	cold.Day.Ambient.K -= 20 // another day: every prediction is another
	other := then(t, ticked, cold)
	if other.Scored() == s.Scored() {
		t.Error("the tests of a warm day are offered on a cold one")
	}
	samePlan(t, other, standing(t, cold))
	all := s.In
	all.Meters = append(all.Meters, "ma-clamp")
	in = all
	in.Meters = in.Meters[:2:2]
	few := standing(t, in)
	was := few.Scored()
	more := then(t, few, all)
	if more.Scored() == was {
		t.Error("a meter was fetched, and what it could read is not scored")
	}
	samePlan(t, more, standing(t, all))
}

// samePlan compares the steps that come next: in what order, how they are reached
// and, taken, what they would read.
func samePlan(t *testing.T, s, fresh *advice.Standing) {
	t.Helper()
	if len(s.Advice.Next) != len(fresh.Advice.Next) {
		t.Fatalf("%d steps, anew %d", len(s.Advice.Next), len(fresh.Advice.Next))
	}
	for i, x := range fresh.Advice.Next {
		y := s.Advice.Next[i]
		// golden: two computations of one figure, which differ by where Newton began
		if x.Name != y.Name || !reflect.DeepEqual(x.Hookup, y.Hookup) || x.Minutes != y.Minutes || math.Abs(x.Bits-y.Bits) > 1e-6 || !reflect.DeepEqual(x.Tells, y.Tells) {
			t.Errorf("%d: %s %.6f bits %v, anew %s %.6f bits %v", i, y.Name, y.Bits, y.Minutes, x.Name, x.Bits, x.Minutes)
		}
		if x.Body.Procedure == "" {
			continue
		}
		x, y = taken(t, fresh, x), taken(t, s, y)
		if len(x.Expect) == 0 || len(x.Expect) != len(y.Expect) || len(x.Strips) != len(y.Strips) || len(x.Looks) != len(y.Looks) || !reflect.DeepEqual(x.Warn, y.Warn) {
			t.Fatalf("%s: %d causes, %d strips, %d answers; anew %d, %d, %d", x.Name, len(y.Expect), len(y.Strips), len(y.Looks), len(x.Expect), len(x.Strips), len(x.Looks))
		}
		for k, e := range x.Expect {
			for v, r := range e.Values {
				if o := y.Expect[k].Values[v]; e.Suspect != y.Expect[k].Suspect || math.Abs(r.Median-o.Median) > 1e-6*(1+math.Abs(r.Median)) {
					t.Errorf("%s: %s reads %g under %s, anew %g under %s", x.Name, r.Name, o.Median, y.Expect[k].Suspect, r.Median, e.Suspect)
				}
			}
		}
	}
}

func taken(t *testing.T, s *advice.Standing, step advice.Step) advice.Step {
	t.Helper()
	out, err := s.Take(step.Body.Procedure)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestTakenStepsSayAll: a step of the list that is taken says what Ask says of it.
func TestTakenStepsSayAll(t *testing.T) {
	in := pageJob(t, "charge-volts", []float64{14.03, 11.8})
	a, err := advice.Ask(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	s := standing(t, in)
	for i, x := range a.Next {
		y := s.Advice.Next[i]
		if x.Name != y.Name || len(x.Expect) == 0 {
			t.Fatalf("%d: %s with %d causes, the page says %s", i, x.Name, len(x.Expect), y.Name)
		}
		if y = taken(t, s, y); len(y.Expect) != len(x.Expect) || len(y.Strips) != len(x.Strips) || y.Why != x.Why || y.Work != x.Work {
			t.Errorf("%s: %d causes, %d strips, because %q; asked for, %d, %d, %q", y.Name, len(y.Expect), len(y.Strips), y.Why, len(x.Expect), len(x.Strips), x.Why)
		}
	}
}

// TestPlannedOnce: what is considered says nothing of the next step; whoever asks
// for it, at once or later, gets one and the same.
func TestPlannedOnce(t *testing.T) {
	s := standing(t, pageJob(t, "charge-volts", []float64{14.03, 11.8}))
	in := pageJob(t, "charge-volts", []float64{14.03, 11.8}, "drop-feed", []float64{1.98, 24.6})
	c, err := s.Consider(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Advice.Next) != 0 || len(c.Advice.Suspects) == 0 {
		t.Fatalf("%d steps and %d causes, want no step yet", len(c.Advice.Next), len(c.Advice.Suspects))
	}
	var got [4]*advice.Standing
	var all sync.WaitGroup
	for i := range got {
		all.Go(func() { got[i], _ = c.Planned() }) // nil shows below
	}
	all.Wait()
	for _, p := range append(got[:], then(t, c, in)) {
		if p == nil || p != got[0] || len(p.Advice.Next) == 0 {
			t.Fatal("it was planned more than once")
		}
	}
	samePlan(t, got[0], standing(t, in))
}
