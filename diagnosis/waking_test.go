package diagnosis

import (
	"math"
	"math/rand/v2"
	"testing"

	"chargewright/internal/testcar"
	"chargewright/prediction"
)

// splitCar is the vehicle whose machine sleeps at idle in one sound one of six.
func splitCar(t *testing.T) *testcar.Car {
	t.Helper()
	c, err := testcar.Library("split-charge")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestOtherStateIsFound: a sound vehicle that sleeps at idle under load keeps its
// share: its fit starts from an awake one, whose readings jump where it falls asleep.
// Without the fit on the other side the sound vehicle is below e^-6 of itself after
// the reading at idle, in four of four with the relay; asked for only where a misfit is
// suspicious, it is so in one of these two with the splitter, whose few readings leave it
// unsuspicious. The bar is e^-3, since sleeping at idle is no rarer than one in twenty.
func TestOtherStateIsFound(t *testing.T) {
	for _, x := range []struct {
		system string
		seen   int
		first  string
	}{{"split-charge", 4, "ac-volts-low"}, {"diode-splitter", 2, "output-stud-dead"}} {
		c, err := testcar.Library(x.system)
		if err != nil {
			t.Fatal(err)
		}
		pr := prior(c, "drain", "brush-worn", "belt-slip", "field-diode-open", "regulator-unsteady")
		rng := rand.New(rand.NewPCG(1, 1))
		seen := 0
		for range 60 {
			if seen < x.seen && asleepIsFound(t, c, &pr, rng, x.first) {
				seen++
			}
		}
		if seen < x.seen {
			t.Errorf("%s: %d vehicles slept: the test looks at too few", x.system, seen)
		}
	}
}

// asleepIsFound draws a sound vehicle and says whether it slept at idle under load.
func asleepIsFound(t *testing.T, c *testcar.Car, pr *Prior, rng *rand.Rand, first string) bool {
	t.Helper()
	z := make([]float64, c.Model.Dims())
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	rs := take(t, c, pr, testcar.Truth{Z: z}, rng, "dplus-volts-key-on", first, "loaded-output-idle")
	if amps := rs[2].Values[1].X; amps > 5 {
		return false
	}
	b := add(t, begin(t, *pr), rs[:2]...)
	before := b.Hyps[0].LogPrior + b.Hyps[0].LogEvidence - b.top()
	b = add(t, b, rs[2])
	after := b.Hyps[0].LogPrior + b.Hyps[0].LogEvidence - b.top()
	t.Logf("%s asleep at idle: sound lies %.1f nats under the likeliest before, %.1f after", c.Sys.ID, -before, -after)
	if after < before-3 {
		t.Errorf("%s: sound vehicle asleep at idle (%.2f V, %.2f A) fell by %.1f nats", c.Sys.ID, rs[2].Values[0].X, rs[2].Values[1].X, before-after)
	}
	return true
}

// top is the largest log of prior times evidence of a job.
func (b *Belief) top() float64 {
	best := math.Inf(-1)
	for _, h := range b.Hyps {
		best = math.Max(best, h.LogPrior+h.LogEvidence)
	}
	return best
}

// TestFullFieldIsFound: a sound vehicle with a weak machine sags at idle under load.
// A fit that starts with the machine regulating sees nothing of the machine and takes
// the sag for the regulator's; from a start with the regulator pressed it finds the
// machine. The fit that starts at the truth is the bar, within five nats: what is not
// suspicious is not fitted again and may lie so much higher (measured: 3.2 at most).
// Without the other starts 2 of the 12 miss it, one by falling out altogether.
func TestFullFieldIsFound(t *testing.T) {
	c := splitCar(t)
	pr := prior(c, "belt-slip")
	for n := range 12 {
		rng := rand.New(rand.NewPCG(3, uint64(n)))
		z := make([]float64, c.Model.Dims())
		for i, k := range c.Model.Coords {
			z[i] = rng.NormFloat64()
			switch k.ID {
			case "machine.flux":
				z[i] = -2
			case "machine.inductance", "machine.residual":
				z[i] = 2
			}
		}
		rs := take(t, c, &pr, testcar.Truth{Z: z}, rng, "ac-volts-low", "loaded-output-idle", "quick-volts", "loaded-output")
		b := add(t, begin(t, pr), rs...)
		best := math.Inf(1)
		for _, k := range b.Hyps[0].Fits {
			if k.bad.none() {
				best = math.Min(best, k.phi)
			}
		}
		f := newFitter(&b)
		f.h = &b.Hyps[0]
		at := &fit{z: make([]float64, f.width())}
		copy(at.z, z)
		g, ok := f.run(weighted{comp: prediction.Component{}}, wrongs{}, start{at: at}, b.data)
		f.done()
		t.Logf("misfit %.2f nats, from the truth %.2f; %.2f V at idle under load", best, g.phi, rs[1].Values[0].X)
		if !ok || best > g.phi+5 {
			t.Errorf("the sound vehicle's fit ended at %.2f nats, from the truth at %.2f", best, g.phi)
		}
	}
}
