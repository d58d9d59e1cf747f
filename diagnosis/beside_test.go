package diagnosis

import (
	"context"
	"math/rand/v2"
	"testing"
)

// TestPairsThatAreLookedAt: the pairs that would look best if all were looked at, which
// is the slow way, are among the few that are when effects are added. With a handful they
// are not.
func TestPairsThatAreLookedAt(t *testing.T) {
	c := car(t)
	procs := []string{"battery-rest-volts", "charge-volts", "loaded-output", "drop-feed", "drop-earth", "reg-pin-volts"}
	const best = 10 // half of what is fitted in the end
	few, handful, of := 0, 0, 0
	for k, pair := range [][2]string{{"feed-joint-bulkhead-a", "earth-joint-block"}, {"regulator-set-low", "clamp-negative"}} {
		pr := prior(c)
		b := begin(t, pr)
		b.pairs = true // not looked for
		rng := rand.New(rand.NewPCG(uint64(5+k), 31))
		b = add(t, b, take(t, c, &pr, c.Middling(c.Fault(pair[0]), c.Fault(pair[1])), rng, procs...)...)
		eff := b.effects()
		near := func(n int) []Hyp {
			twin := b.clone()
			own := *b.prior
			own.Settings.PairNear = n
			twin.prior = &own
			return twin.pairCandidates(nil, eff)
		}
		all := near(1 << 20)
		top, err := b.bestOf(context.Background(), all, (*fitter).glance, best)
		if err != nil {
			t.Fatal(err)
		}
		kept := near(pr.Settings.PairNear)
		few, handful, of = few+among(top, kept), handful+among(top, near(5)), of+len(top)
		t.Logf("%s and %s: of %d pairs %d are looked at", pair[0], pair[1], len(all), len(kept))
	}
	t.Logf("of the best %d, %d are looked at, with a handful %d", of, few, handful)
	// One may be missed: the last of ten has a thousandth of the first's share.
	if few < of-1 {
		t.Errorf("of the %d best pairs only %d are looked at", of, few)
	}
	if handful >= of-1 {
		t.Errorf("with five pairs %d of the best %d are looked at: this test would not notice", handful, of)
	}
}

// among counts the pairs that are in a list.
func among(pairs, list []Hyp) (n int) {
	for i := range pairs {
		for k := range list {
			if samePair(&pairs[i], &list[k]) {
				n++
			}
		}
	}
	return n
}
