package diagnosis

import (
	"math/rand/v2"
	"testing"

	"chargewright/internal/testcar"
	"chargewright/question"
)

// TestSlipOfAnythingLikely: a value with its sign turned round is wrong whatever exactly the vehicle
// would have read, so that a fit that takes it as wrong is not given up for being a little off. A turned
// sign says nothing of the vehicle: its fault keeps what it had, but for what else such a value could have been; a factor of
// four is allowed. With the slip looked for at the prediction alone some of these lost a thousandfold.
func TestSlipOfAnythingLikely(t *testing.T) {
	c, err := testcar.Library("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	pr := prior(c)
	pr.Settings.PairPrior = 0 // a single fault is what it has
	pr.Remember()
	rng := rand.New(rand.NewPCG(7, 1))
	ids := []string{"regulator-full-field", "battery-cell-down", "battery-worn", "belt-slip", "clamp-positive", "ignition-switch-contacts"}
	for n := range 24 {
		fault := c.Fault(ids[n%len(ids)])
		rs := take(t, c, &pr, c.Draw(rng, []int{fault}, 1), rng, "ac-volts-low")
		before := share(t, pr, rs, fault)
		turned := &rs[0].Values[1].X
		*turned = -*turned
		if after := share(t, pr, rs, fault); before > 0.01 && after < before/4 {
			t.Errorf("vehicle %d, %s: %.3f, with a turned sign %.2g", n, ids[n%len(ids)], before, after)
		}
	}
}

// share is that of a single fault after readings.
func share(t *testing.T, pr Prior, rs []question.Reading, fault int) float64 {
	t.Helper()
	b, err := Infer(t.Context(), pr, rs)
	if err != nil {
		t.Fatal(err)
	}
	for i, h := range b.Hyps {
		if len(h.Faults) == 1 && h.Faults[0] == fault && !h.Intermittent {
			return b.Posterior(i)
		}
	}
	return 0
}
