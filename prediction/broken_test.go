package prediction_test

import (
	"math"
	"testing"

	"chargewright/internal/testcar"
	"chargewright/prediction"
	"chargewright/question"
)

// hooked is a car in a procedure's hook-up, where one voltage is read between two points.
func hooked(t *testing.T, c *testcar.Car, procedure, red, black string) prediction.Asked {
	t.Helper()
	q, err := c.Question(procedure)
	if err != nil {
		t.Fatal(err)
	}
	q.Seek = []question.Observable{{Kind: question.Volts, Red: red, Black: black, Meter: "dmm"}}
	a, err := c.Model.Ask(q)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// TestStrayVolts: what stray current makes of a reading is that current times the
// resistance between the leads. The oracle asks no adjoint: a resistance R across the very
// leads draws V/R, so that a little more of it moves the volts by (V/R^2) times that
// resistance; two solves show by how much. Once the field's earth end hangs on meters
// alone, once the regulator holds it.
func TestStrayVolts(t *testing.T) {
	const source = "closed form: dV/dR of a resistor across two points is their resistance times V/R^2"
	c := carOf(t, "isolated-earth-side")
	fault, _ := c.Model.FaultIndex("rotor-earthed-b") // across ring B and case
	stray := c.Model.StrayTerm()
	for _, place := range []struct {
		procedure   string
		ohms        float64 // of the path to earth
		least, most float64 // what the leads see [Ohm]
	}{
		{"plug-pins-key-on", 1e5, 2, 50}, // fed through the rotor
		{"field-feed-key-on", 10, 0.1, 8},
	} {
		a := hooked(t, c, place.procedure, "ring-b", "case")
		w := c.Model.NewWorker()
		volts := func(ohms, pick float64, row []float64) float64 {
			z := make([]float64, c.Model.Dims())
			z[stray] = pick
			var comp prediction.Component
			comp.Mean[0] = math.Log10(ohms)
			w.Hold(prediction.Hypothesis{Faults: []int{fault}}, comp, z)
			if err := w.Solve(&a); err != nil {
				t.Fatal(err)
			}
			return w.Read(&a.Probes[0], row)
		}
		const step = 1e-3
		up, down := volts(place.ohms*(1+step), 0, nil), volts(place.ohms*(1-step), 0, nil)
		row := make([]float64, c.Model.Dims())
		v := volts(place.ohms, 0, row)
		sees := (up - down) / (2 * step * place.ohms) * place.ohms * place.ohms / v
		if sees < place.least || sees > place.most {
			t.Fatalf("%s: the leads see %g Ohm, meant %g to %g", place.procedure, sees, place.least, place.most)
		}
		for what, ohms := range map[string]float64{
			"by its own coordinate":   row[stray] / prediction.StrayAmps,
			"read without the others": (volts(place.ohms, 1e6, nil) - v) / 1e6 / prediction.StrayAmps,
		} {
			if !(math.Abs(ohms-sees) <= 1e-3*sees) { // the step's own square is 1e-6
				t.Errorf("%s, stray volts %s: the leads see %g Ohm, want %g (%s)", place.procedure, what, ohms, sees, source)
			}
		}
	}
}
