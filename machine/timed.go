package machine

import "fmt"

// Timed is a machine at an operating point as the time-domain solver has it, where
// the devices look it up in tables.
type Timed struct {
	Amps       float64 // mean current out of the stud, without leakage [A]
	ACRms      float64 // of its alternating part [A]
	DPlusVolts float64 // mean, to case [V]; 0 without field diodes
}

// Timed solves the device's operating point in the time domain: the stud's voltage
// held, as the tables have it. Solve it only where EMF is above zero.
func (m *Alternator) Timed(x, p []float64) (Timed, error) {
	c := m.Point(x, p)
	if m.pattern(p) == DeltaWindingOpen {
		b := deltaOf(Build{EMF: c.EMF, Omega: c.Omega, Henries: c.Henries, Ohms: c.Ohms, Volts: c.Volts, Diode: c.Diode})
		b.Changes.WindingOpen[0] = true
		return timed(b)
	}
	s, err := SteadyState(c)
	return Timed{Amps: s.Out[Mean], ACRms: s.Out[ACRms]}, err
}

// Timed is Alternator.Timed with the current of D+ held too.
func (m *NineDiode) Timed(x, p []float64) (Timed, error) {
	b, err := m.Build(x, p)
	if err != nil {
		return Timed{}, err
	}
	t, err := timed(b)
	if err != nil {
		return t, fmt.Errorf("with %.3g A drawn at D+: %w", b.Field.Amps, err)
	}
	return t, nil
}

func timed(b Build) (Timed, error) {
	r, err := Run(b)
	if err != nil {
		return Timed{}, err
	}
	return Timed{Amps: r.Stud.Mean, ACRms: r.Stud.ACRms, DPlusVolts: r.DPlusVolts.Mean}, nil
}
