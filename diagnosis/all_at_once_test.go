package diagnosis

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
)

// TestOneByOneOrAllAtOnce: the order of adding must not matter beyond the
// method's own short cuts. A hypothesis that was only screened may keep an
// approximate evidence while it is below Lazy (0.001); wrong-value branches may
// be cut at other points (e^-2 of a fit) and a fit may end in another of two
// tops. So shares must agree to 0.03, far under what any decision hangs on.
func TestOneByOneOrAllAtOnce(t *testing.T) {
	c := car(t)
	pr := prior(c, few...)
	worst := 0.0
	for seed, fault := range []string{"diode-open", "earth-joint-block", "brush-worn", "feed-joint-ammeter", "regulator-no-field", "battery-worn"} {
		rng := rand.New(rand.NewPCG(uint64(seed), 5))
		rs := take(t, c, &pr, c.Draw(rng, []int{c.Fault(fault)}, 3), rng, usual...)
		all, err := Infer(context.Background(), pr, rs)
		if err != nil {
			t.Fatal(err)
		}
		one := add(t, begin(t, pr), rs...)
		back := begin(t, pr)
		for i := range rs {
			back = add(t, back, rs[len(rs)-1-i])
		}
		for what, b := range map[string]*Belief{"one by one": &one, "backwards": &back} {
			d := variation(&all, b)
			worst = math.Max(worst, d)
			if d > 0.03 {
				t.Errorf("%s, %s: total variation %.4f from all at once", fault, what, d)
			}
		}
	}
	t.Logf("largest total variation of the fault posterior: %.4f", worst)
}
