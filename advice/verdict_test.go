package advice

import (
	"math"
	"testing"

	"chargewright/question"
)

// TestVerdictAtTemperature: the limit moves with the regulator's temperature.
// The regulated voltage of the reference system is 13.8 to 14.6 V at 27 degC and
// falls 10 mV/K (its system file): at a regulator of 7 degC both ends stand
// 0.2 V higher (closed form: -0.010 * (280.15 - 300.15)).
func TestVerdictAtTemperature(t *testing.T) {
	in := Input{Readings: taken(t, ready(t), "", "charge-volts")}
	in.Readings[0].Question.Setup.Reg = question.Temp{K: 280.15, U: 1}
	a := ask(t, in)
	l := a.Readings["r1"].Values[0].Limits[0]
	if l.ID != "regulated" || math.Abs(*l.Low-14.0) > 1e-9 || math.Abs(*l.High-14.8) > 1e-9 {
		t.Errorf("limit %s %g to %g, want 14.0 to 14.8", l.ID, *l.Low, *l.High)
	}
	if l.At == nil || math.Abs(*l.At-7) > 1e-9 || l.AtUnit != "Cel" {
		t.Errorf("the limit does not say that it holds at 7 degC: %v %s", l.At, l.AtUnit)
	}
}

// TestNotYet: a regulated voltage is not called while the battery takes more
// than 5 A, nor after it rested under 12.4 V; one that is too high is, and so is
// one at which nothing is charged.
func TestNotYet(t *testing.T) {
	p := ready(t)
	for _, c := range []struct {
		name, fault, complaint string
		readings               []string
		volts                  float64 // of charge-volts, 0 = as predicted
		rest                   float64
		want                   string
		note                   bool
	}{
		{name: "flat battery", readings: []string{"battery-rest-volts", "charge-volts"}, rest: 12.2, volts: 13.5, want: "cannot tell", note: true},
		{name: "flat and too high", fault: "control-wire-earthed", readings: []string{"battery-rest-volts", "charge-volts"}, rest: 12.2, volts: 15.6, want: "outside"},
		{name: "nothing charges", fault: "rotor-open", complaint: "no-charge", readings: []string{"battery-rest-volts", "charge-volts"}, rest: 12.2, want: "outside"},
	} {
		in := Input{Complaint: c.complaint, Readings: taken(t, p, c.fault, c.readings...)}
		in.Readings[0].Values[0].X = c.rest
		if c.volts > 0 {
			in.Readings[1].Values[0].X = c.volts
		}
		v := ask(t, in).Readings["r2"].Values[0]
		if v.Verdict != c.want || (len(v.Notes) > 0) != c.note {
			t.Errorf("%s: %s with notes %q, want %s", c.name, v.Verdict, v.Notes, c.want)
		}
	}
}

// TestOdds: words for probabilities; the numbers are p/(1-p), closed form.
func TestOdds(t *testing.T) {
	for p, want := range map[float64]string{
		0.75: "3 to 1", 0.25: "1 to 3", 0.5: "evens", 0.6: "1.5 to 1", 0.9: "9 to 1", 0.97: "30 to 1",
		0.9999: "over 1000 to 1", 0: "under 1 to 1000", math.NaN(): "under 1 to 1000",
	} {
		if got := Odds(p); got != want {
			t.Errorf("Odds(%g) = %q, want %q", p, got, want)
		}
	}
	if got := Factor(-3); got != "8 to 1" {
		t.Errorf("three bits against: %q", got)
	}
}

// TestWithinHowever: values that are known to a range are held against limits
// as far as the range settles it.
func TestWithinHowever(t *testing.T) {
	low, high := 1.0, 2.0
	for _, c := range []struct {
		v    question.Value
		want float64
	}{
		{question.Value{How: question.Over, Lo: 2.5}, 0},
		{question.Value{How: question.Over, Lo: 1.5}, 0.5},
		{question.Value{How: question.Under, Hi: 0.5}, 0},
		{question.Value{How: question.Under, Hi: 1.5}, 0.5},
	} {
		if got := pWithin(c.v, 1.5, 0.01, &low, &high); got != c.want {
			t.Errorf("%+v: %g, want %g", c.v, got, c.want)
		}
	}
	if got := pWithin(question.Value{How: question.Over, Lo: 3}, 3, 0.01, &low, nil); got != 1 {
		t.Errorf("over 3 against at least 1: %g", got)
	}
}
