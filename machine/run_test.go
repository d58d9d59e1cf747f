package machine

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// ratedBuild is the worked machine as a build, full field on a held voltage.
func ratedBuild(p Pattern, rpm, volts float64) Build {
	c := fullField(p, rpm, volts)
	b := Build{EMF: c.EMF, Omega: c.Omega, Ohms: c.Ohms, Henries: c.Henries, Volts: c.Volts, Diode: c.Diode}
	for _, e := range p.Elements() {
		if err := b.Changes.Apply(e); err != nil {
			panic(err) // a table of our own
		}
	}
	return b
}

func mustRun(t *testing.T, b Build) *Periodic {
	t.Helper()
	p, err := Run(b)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Two solvers of one machine: every pattern at three speeds.
// program: machine.SteadyState, which ngspice and closed forms hold. Each errs by
// up to 1e-4 of the mean by its steps, and as much by where it stops.
func TestRunAgainstSteadyState(t *testing.T) {
	for _, rpm := range []float64{1300, 2875, 6000} {
		for p := range NumPatterns {
			want, err := SteadyState(fullField(p, rpm, 15))
			if err != nil {
				t.Fatal(err)
			}
			got := mustRun(t, ratedBuild(p, rpm, 15))
			tol := 2e-4 * max(want.Out[Mean], want.Out[Order1], want.Out[Order2])
			for o, x := range map[Output]float64{Mean: got.Stud.Mean, Order1: got.Stud.Orders[0], Order2: got.Stud.Orders[1], Order6: got.Stud.Orders[4], ACRms: got.Stud.ACRms} {
				if math.Abs(x-want.Out[o]) > tol {
					t.Errorf("%v at %v rpm, %v: %.5f A, the other solver %.5f", p, rpm, o, x, want.Out[o])
				}
			}
			for k := range 3 {
				if math.Abs(got.Windings[k].RMS-want.RMS[k]) > 5*tol {
					t.Errorf("%v at %v rpm: winding %d %.4f A rms, the other solver %.4f", p, rpm, k, got.Windings[k].RMS, want.RMS[k])
				}
			}
		}
	}
}

// closed form: a delta of three times the impedance and sqrt(3) times the EMF is
// the star, seen from outside; its winding currents are the line's over sqrt(3).
func TestDeltaIsTheStarFromOutside(t *testing.T) {
	star := mustRun(t, ratedBuild(Healthy, 2875, 15))
	delta := mustRun(t, ratedDelta(2875, 15))
	if math.Abs(delta.Stud.Mean-star.Stud.Mean) > 2e-4*star.Stud.Mean {
		t.Errorf("delta %.4f A, star %.4f", delta.Stud.Mean, star.Stud.Mean)
	}
	// Star line currents hold odd harmonics other than triples; both share them,
	// and without triples rms over sqrt(3) is exact.
	if d := delta.Windings[0].RMS*math.Sqrt(3)/star.Windings[0].RMS - 1; math.Abs(d) > 1e-3 {
		t.Errorf("winding current off by %.2f %%", 100*d)
	}
	if delta.Circulating > 1e-3 {
		t.Errorf("%.4f A go round the delta without a third harmonic", delta.Circulating)
	}
}

// closed form: the third harmonic drives E3/sqrt(R^2 + (3 w L0)^2) round a delta,
// peak, whatever the bridge does, and does not reach the output; in a star it
// reaches neither. Two windings in series and one across: an open winding leaves
// an open delta, whose third harmonic EMF then stands between two corners.
func TestThirdHarmonicGoesRoundTheDelta(t *testing.T) {
	b := ratedDelta(2875, 15)
	plain := mustRun(t, b)
	b.Third, b.ZeroHenries = 0.1, 0.2*b.Henries
	p := mustRun(t, b)
	want := 0.1 * b.EMF / math.Hypot(b.Ohms, 3*b.Omega*b.ZeroHenries) / math.Sqrt2
	if math.Abs(p.Circulating/want-1) > 2e-3 {
		t.Errorf("%.4f A rms go round, closed form %.4f", p.Circulating, want)
	}
	if d := p.Stud.Mean - plain.Stud.Mean; math.Abs(d) > 2e-4*plain.Stud.Mean {
		t.Errorf("the output moves by %.4f A", d)
	}
	star := ratedBuild(Healthy, 2875, 15)
	star.Third, star.ZeroHenries = 0.1, 0.2*star.Henries
	if p := mustRun(t, star); math.Abs(p.Stud.Mean-plain.Stud.Mean) > 2e-4*plain.Stud.Mean || p.Circulating > 1e-6 {
		t.Errorf("star: %.4f A out, %.6f A through the star point", p.Stud.Mean, p.Circulating)
	}
}

// closed form: an open lead of a delta leaves one winding across the other two
// in series, for both lines alike: as an open phase of a star, output order 2 and
// no order 1; the star that looks the same has the same output. An open winding
// leaves three leads, and delivers more. By symmetry both have no odd order.
func TestOpenWindingAndOpenLead(t *testing.T) {
	winding, lead := ratedDelta(2875, 15), ratedDelta(2875, 15)
	winding.Changes.WindingOpen[0], lead.Changes.LeadOpen[0] = true, true
	w, l := mustRun(t, winding), mustRun(t, lead)
	star := mustRun(t, ratedBuild(PhaseOpen, 2875, 15))
	if math.Abs(l.Stud.Mean-star.Stud.Mean) > 2e-4*star.Stud.Mean {
		t.Errorf("open lead: delta %.4f A, star %.4f", l.Stud.Mean, star.Stud.Mean)
	}
	if w.Stud.Mean < 1.2*l.Stud.Mean {
		t.Errorf("open winding %.3f A, open lead %.3f", w.Stud.Mean, l.Stud.Mean)
	}
	if w.Windings[0].RMS > 1e-9 || w.Stud.Orders[0] > 1e-3*w.Stud.Mean {
		t.Errorf("open winding carries %.6f A; order 1 is %.4f A", w.Windings[0].RMS, w.Stud.Orders[0])
	}
}

// Star-point diodes add what the star point's own swing can deliver. closed form:
// on a voltage source and a resistor (no inductance) the star point swings with
// the third harmonic of the six-step; common practice: some percent to a tenth
// more at high speed, nothing at low. Here the machine with a tenth of third
// harmonic and little zero-sequence inductance.
func TestStarPointDiodes(t *testing.T) {
	gain := func(rpm float64) float64 {
		b := ratedBuild(Healthy, rpm, 15)
		b.Third, b.ZeroHenries = 0.15, 0.1*b.Henries
		plain := mustRun(t, b).Stud.Mean
		b.StarDiodes = true
		return mustRun(t, b).Stud.Mean/plain - 1
	}
	slow, fast := gain(2000), gain(8000)
	t.Logf("star-point diodes: %+.2f %% at 2000 rpm, %+.2f %% at 8000", 100*slow, 100*fast)
	if slow < -1e-3 || slow > 0.01 || fast < 0.02 || fast > 0.2 {
		t.Errorf("gain %.2f %% at low, %.2f %% at high speed", 100*slow, 100*fast)
	}
}

// A machine that stands: closed form: the main diodes block; a shorted positive
// diode lets the battery feed D+ through the field diodes, V = i R + drops, and
// three diodes share the current.
func TestStandingMachine(t *testing.T) {
	b := Build{Ohms: ratedOhms, Henries: ratedHenries, Volts: 12.6, Diode: PressFit, Field: &FieldSide{Diode: SmallDiode, Siemens: 1 / ratedRotor}}
	p := mustRun(t, b)
	if p.DPlusVolts.Mean > 0.01 || math.Abs(p.Stud.Mean) > 1e-5 {
		t.Errorf("sound: D+ %.3f V, %.6f A out", p.DPlusVolts.Mean, p.Stud.Mean)
	}
	b.Changes.Main[APlus], b.Field.Behind = Change{Open: true, Across: 1000}, ratedBrush
	p = mustRun(t, b)
	amps := p.DPlus.Mean
	// The diode of the shorted phase carries most; its drop is what counts. The
	// others have two windings more in their way.
	own := amps - 2*p.Windings[1].Mean
	want := (12.6 - ratedBrush - SmallDiode.Drop(own) - SmallDiode.Ohms*own) / (ratedRotor + 1e-3)
	if math.Abs(amps/want-1) > 1e-3 || math.Abs(p.Stud.Mean+amps) > 1e-4 {
		t.Errorf("shorted positive diode: %.4f A at D+, closed form %.4f; %.4f A from the battery", amps, want, -p.Stud.Mean)
	}
}

// Every wrong figure is named at once, and what the machine does not have cannot
// be changed.
func TestBadBuildIsRefusedWithEverythingWrong(t *testing.T) {
	b := Build{Winding: Delta, EMF: -1, Third: 2, Volts: math.NaN(), Steps: 3, StarDiodes: true, Field: &FieldSide{}}
	b.Changes.StarEarth = 1
	b.Changes.LeadOhms[1] = -1
	_, err := Run(b)
	if err == nil || !Refused(err) {
		t.Fatalf("not refused: %v", err)
	}
	for _, word := range []string{"EMF", "harmonics", "winding resistance", "inductance", "voltage held", "Steps", "star-point diodes need", "field diode saturation", "diode emission", "no star point", "0 or more"} {
		if !strings.Contains(err.Error(), word) {
			t.Errorf("%q is not named in: %v", word, err)
		}
	}
	b = ratedBuild(Healthy, 2875, 15)
	b.Changes.Field[0].Open, b.Changes.Star[1].Open = true, true
	if _, err = Run(b); err == nil || !strings.Contains(err.Error(), "field diode is changed") || !strings.Contains(err.Error(), "star-point diode is changed") {
		t.Errorf("changed diodes that are not there: %v", err)
	}
	if Refused(errors.New("x")) {
		t.Error("any error is taken for one of the figures")
	}
}

// What people write as a fault, and what they should have written.
func TestApply(t *testing.T) {
	for text, want := range map[string]string{
		"diode-a+=open": "", "diode-c-=short": "", "diode-b+=5 Ohm": "", "winding-b=open": "", "winding-c=200 mOhm": "", "lead-a=0.1 Ohm": "",
		"c-a=short": "", "b-a=0.5 Ohm": "", "b-case=short": "", "star-case=1 Ohm": "", "star-diode+=open": "", "field-diode-c=short": "",
		"diode-a=open": "no element", "diode-d+=open": "no element", "a-a=short": "no element", "": "no element",
		"diode-a+": "does not say what happened", "winding-a=short": "cannot be short; write instead: winding-a=open",
		"a-b=open": "cannot be open", "lead-b=5": "no resistance above 0 Ohm", "lead-b=0 Ohm": "no resistance",
	} {
		var c Changes
		err := c.Apply(text)
		switch {
		case want == "" && (err != nil || c == Changes{}):
			t.Errorf("%s: %v, changes %+v", text, err, c)
		case want != "" && (err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "write instead")):
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
	var c Changes
	if err := c.Apply("b-a=0.5 Ohm"); err != nil || c.Between[0] != 2 {
		t.Errorf("b-a is not a-b: %v %v", err, c.Between)
	}
}
