package machine

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The table of an open delta winding against our own time-domain solver; bars as
// the bridge tables have.
func TestDeltaTableAgainstTimeDomain(t *testing.T) {
	m := newRated(t)
	rng := rand.New(rand.NewPCG(14, 1))
	var square, worst, order, crest float64
	n := 0
	for range 40 {
		x, q := drawPart(rng, DeltaWindingOpen)
		c := m.Point(x, q)
		b := deltaOf(Build{EMF: c.EMF, Omega: c.Omega, Ohms: c.Ohms, Henries: c.Henries, Volts: c.Volts, Diode: c.Diode, Steps: 361})
		b.Changes.WindingOpen[1] = true // any of the three
		s := mustRun(t, b).Stud
		figures := [NumOutputs]float64{Mean: s.Mean, PeakToPeak: s.PeakToPeak, ACRms: s.ACRms}
		copy(figures[Order1:], s.Orders[:])
		for o := range NumOutputs {
			e := math.Abs(m.Ripple(x, q, o, nil, nil) - figures[o])
			switch {
			case o == Mean:
				worst = max(worst, e)
				if s.Mean > 2 {
					square += math.Pow(e/s.Mean, 2)
					n++
				}
			case o == PeakToPeak:
				crest = max(crest, e)
			default:
				order = max(order, e)
			}
		}
	}
	rms := math.Sqrt(square / float64(n))
	t.Logf("mean: rms %.2f %%, max %.3f A; orders and rms max %.3f A; peak to peak max %.3f A", 100*rms, worst, order, crest)
	if rms > 0.01 || worst > 0.3 || order > 0.3 || crest > 0.6 {
		t.Errorf("rms %.2f %%, max %.3f A, orders %.3f A, peak to peak %.3f A", 100*rms, worst, order, crest)
	}
}
