package machine

import "testing"

// TestStandstill: without EMF the tables give exactly nothing, which is what the
// short way takes.
func TestStandstill(t *testing.T) {
	m, err := NewAlternator(Diode{Saturation: 1e-9, Emission: 1.5, Ohms: 0.002}, 2, 1)
	if err != nil {
		t.Fatal(err)
	}
	p := make([]float64, NumParams)
	p[StatorOhms], p[FaultOhms] = 0.04, 1
	for pattern := range endPatterns {
		if pattern == DeltaWindingOpen {
			continue // its look-up is in amps itself; the tables are of one kind
		}
		for _, volts := range []float64{0, 12.6} {
			short, byFault := m.amps(Mean, pattern, volts, 0, 3e-6, p)
			var long current
			if pattern < NumPatterns {
				long = m.current(Mean, pattern, volts, 0, 3e-6, p[StatorOhms])
			} else {
				long, _ = m.between(Mean, pattern, volts, 0, 3e-6, p[StatorOhms], p[FaultOhms])
			}
			// closed form: the output is E times something
			if short != long || short != (current{}) || byFault != 0 {
				t.Errorf("%v at %g V: %+v the short way, %+v by the tables", pattern, volts, short, long)
			}
		}
	}
}
