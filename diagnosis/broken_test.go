package diagnosis

import (
	"fmt"
	"math"
	"testing"

	"chargewright/internal/testcar"
	"chargewright/question"
)

// TestBreaksAreNotToldApartByTheirLeak: behind a broken connection hangs nothing but the
// meter, and what it shows there is dirt: from millivolts to most of the battery. It says
// that there is a break, and not whether it is in the rotor or at the brush.
func TestBreaksAreNotToldApartByTheirLeak(t *testing.T) {
	const (
		source = "closed form: two breaks that leak alike give every reading the same density, so that their odds stay those of their rates"
		most   = 1.5 // times: the two reach their fits by different paths, of a nat's half at most
	)
	c := car(t)
	pr := prior(c, "rotor-open", "brush-lead-off", "control-wire-open", "regulator-no-field", "field-feed-open", "brush-worn")
	var odds float64
	for _, volts := range []float64{-1, -0.012, 0.004, 0.06, 1.4, 8.58} { // -1 stands for no reading
		t.Run(fmt.Sprint(volts), func(t *testing.T) {
			b := begin(t, pr)
			rs := []question.Reading{written(t, c, &pr, "field-feed-key-on", 12.2, 12.0, 0.006)}
			if volts > -1 {
				rs = append(rs, written(t, c, &pr, "plug-pins-key-on", 12.1, volts))
			}
			for _, r := range rs {
				b = add(t, b, r)
			}
			share := map[string]float64{}
			for i := range b.Hyps {
				for _, f := range b.Hyps[i].Faults {
					share[c.Sys.Faults[f].ID] += b.Posterior(i)
				}
			}
			got := share["rotor-open"] / share["brush-lead-off"]
			t.Logf("%v", share)
			if volts == -1 {
				odds = got
				return
			}
			if off := math.Abs(math.Log(got / odds)); !(off < math.Log(most)) {
				t.Errorf("%g V makes %.3g of %.3g to 1 between rotor and brush (%s)", volts, got, odds, source)
			}
		})
	}
}

// written is a procedure's reading with values as a technician wrote them down.
func written(t *testing.T, c *testcar.Car, pr *Prior, procedure string, values ...float64) question.Reading {
	t.Helper()
	q, err := c.Question(procedure)
	if err != nil {
		t.Fatal(err)
	}
	if len(values) != len(q.Seek) {
		t.Fatalf("%s: %d values for %d", procedure, len(values), len(q.Seek))
	}
	r := question.Reading{Question: q, ID: procedure}
	for i, x := range values {
		r.Values = append(r.Values, question.Value{How: question.Measured, X: x, U: pr.Noise(q.Seek[i], x)})
	}
	return r
}

// TestRingsTell: an ohmmeter over its range at the rotor's rings says that the rotor is open,
// whatever a pin behind the break showed before. The fit has to bring together what the
// pin leaked, within a thousandth, and a bound that leaves all above it.
func TestRingsTell(t *testing.T) {
	c := car(t)
	pr := prior(c, "rotor-open", "brush-lead-off", "control-wire-open", "regulator-no-field", "field-feed-open", "brush-worn")
	_, _, full, err := c.Meters["dmm"].Standard("ohms", 5e6)
	if err != nil {
		t.Fatal(err)
	}
	q, err := c.Question("bench-rotor-ohms")
	if err != nil {
		t.Fatal(err)
	}
	over := question.Reading{ID: "rings", Question: q, Values: []question.Value{{How: question.Over, Lo: full}}}
	for _, volts := range []float64{0.03, 1.08, 8.58} {
		b := add(t, begin(t, pr), written(t, c, &pr, "field-feed-key-on", 12.2, 12.0, 0.006), written(t, c, &pr, "plug-pins-key-on", 12.1, volts), over)
		brush := 0.0
		for i := range b.Hyps {
			if b.Hyps[i].Faults != nil && c.Sys.Faults[b.Hyps[i].Faults[0]].ID == "brush-lead-off" {
				brush += b.Posterior(i)
			}
		}
		// 2 % of values are wrong; a leak of 1 MOhm is over 6 MOhm at an ohmmeter in one of four.
		if brush > 0.1 {
			t.Errorf("%g V at the pin: the brush lead keeps %.2f though its rotor would read 5 Ohm", volts, brush)
		}
	}
}
