package fit

import (
	"math"
	"testing"

	"chargewright/battery"
	"chargewright/internal/near"
	"chargewright/unit"
)

// TestFiguresInClosedForm: what can be worked out by hand.
func TestFiguresInClosedForm(t *testing.T) {
	c := newCar(t, nil)
	c.v[rotor], c.v[stator], c.v[brush], c.p.brushes = 5, 0.1, 0.5, 0
	exact := near.Tol{Rel: 1e-9}
	near.Check(t, "rotor at 120 degC", c.p.predict(&c.v, &Figure{Kind: Rotor, Kelvin: unit.FromCelsius(120)}), 5*1.393, exact,
		"closed form: 5 Ohm (1 + 0.00393 x 100)")
	near.Check(t, "stator, two ends at 20 degC", c.p.predict(&c.v, &Figure{Kind: Stator, Kelvin: unit.FromCelsius(20)}), 0.2/1.1965, exact,
		"closed form: two phases of 0.1 Ohm at 70 degC, taken back by 1 + 0.00393 x 50")
	// Far above 50 mA the brush drop is the whole 0.5 V but for its square over
	// twice the current's: (0.05/2.3)^2/2 of it, 0.12 mV of 11.5.
	near.Check(t, "field current", c.p.predict(&c.v, &Figure{Kind: FieldCurrent, Volts: 12, Kelvin: unit.FromCelsius(20)}), 2.3, near.Tol{Rel: 3e-5},
		"closed form: (12 V - 0.5 V)/5 Ohm")
	c.v[setpoint], c.v[slope] = 14.2, -0.012
	near.Check(t, "regulated at -3 degC", c.p.predict(&c.v, &Figure{Kind: Regulated, Kelvin: unit.FromCelsius(-3)}), 14.56, exact,
		"closed form: 14.2 V + 30 K x 12 mV/K")

	m, err := battery.New(55, 6)
	if err != nil {
		t.Fatal(err)
	}
	full, err := m.OpenCircuitVolts(1)
	if err != nil {
		t.Fatal(err)
	}
	c.v[inner] = 5e-3
	want := (full - 7.2) / (1.5 * 5e-3 * math.Exp(43.0/60))
	near.Check(t, "cold cranking", c.p.predict(&c.v, &Figure{Kind: ColdCranking, Volts: 7.2}), want, near.Tol{Rel: 1e-3},
		"closed form: (rested volts - 7.2 V)/(1.5 R0 exp(43 K/60 K)), docs/models/battery.md; the clamp of temperature moves it by less than a thousandth")
}

// TestCutInAgainstClosedForm: with little current asked for, output begins where
// the line-to-line peak meets the volts and two diode drops at that current.
func TestCutInAgainstClosedForm(t *testing.T) {
	c := newCar(t, nil)
	f := &Figure{Kind: CutIn, Volts: 13.5, Kelvin: Cold, Amps: 0.2}
	got := c.p.predict(&c.v, f)
	u := c.p.field(&c.v, f) / c.v.kneeAmps(12)
	emf := c.v[flux] * (2*u/(1+u) + c.p.residual) // per electrical speed
	want := (13.5 + 2*c.p.diode.Drop(0.2)) / math.Sqrt(3) / emf / c.p.poles
	// 0.2 A mean flows in short pulses whose peak is some ten times that, 0.1 V more
	// a diode, and the pulses must drive it through the winding: a few percent.
	near.Check(t, "cut-in speed", got, want, near.Tol{Rel: 0.05}, "closed form: E sqrt(3) = V + 2 V_d")
	if got < want {
		t.Errorf("output begins at %.0f rad/s, before its volts are there at %.0f", got, want)
	}
}

// TestWarmerGivesLess: copper.
func TestWarmerGivesLess(t *testing.T) {
	c := newCar(t, nil)
	f := &Figure{Kind: Output, Volts: 14, Speed: 3000 * rpm, Kelvin: Cold}
	cold := c.p.predict(&c.v, f)
	f.Kelvin = Hot
	if hot := c.p.predict(&c.v, f); hot > 0.99*cold || hot < 0.8*cold {
		t.Errorf("hot %.2f A, cold %.2f A", hot, cold)
	}
	f.Kelvin, f.LessField = Cold, true
	near.Check(t, "less its field", cold-c.p.predict(&c.v, f), c.p.field(&c.v, f), near.Tol{Rel: 1e-9}, "closed form: the field's own amps")
	f.LessField, f.Engine, f.Speed = false, true, 3000*rpm/2.3
	// The belt slips by 1 %: at 3000 rpm output rises by 0.3 % a percent.
	near.Check(t, "by engine speed", c.p.predict(&c.v, f), cold, near.Tol{Rel: 6e-3}, "closed form: speed over the pulley ratio")
	amps := 1.0
	f.FieldAmps = &amps
	if c.p.predict(&c.v, f) > 0.8*cold {
		t.Error("1 A of field gives as much as full field")
	}
}

// TestMisfit: the ends of a range are one tolerance; an open end misses on one
// side only.
func TestMisfit(t *testing.T) {
	low, high := 36.0, 40.0
	f := &Figure{Kind: Output, Low: &low, High: &high}
	exact := near.Tol{Abs: 1e-12}
	near.Check(t, "at the end", f.Misfit(40), 1, exact, "closed form: (40 - 38)/2")
	near.Check(t, "twice beyond", f.Misfit(34), -2, exact, "closed form: (34 - 38)/2")
	f.High = nil
	near.Check(t, "above a least", f.Misfit(50), 0, exact, "closed form: held")
	near.Check(t, "below a least", f.Misfit(36*0.9), -2, exact, "closed form: a tenth below, a twentieth being one tolerance")
	f.Low, f.High = nil, &high
	near.Check(t, "below a most", f.Misfit(1), 0, exact, "closed form: held")
	near.Check(t, "above a most", f.Misfit(42), 1, exact, "closed form: a twentieth above")
}
