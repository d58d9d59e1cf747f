package diagnosis

import (
	"context"
	"math"
	"testing"

	"chargewright/internal/near"
)

// The prior of two faults after a repair that cured one of them and did not end the
// complaint: their rates, the pair's own, and once that the complaint stayed. What
// was told counts once, by the fault that it speaks for more.
func TestPairPrior(t *testing.T) {
	p := prior(car(t), "earth-joint-block", "feed-joint-junction")
	first, _ := p.Model.FaultIndex("earth-joint-block")
	second, _ := p.Model.FaultIndex("feed-joint-junction")
	p.Told = make([]float64, len(p.faults())+1)
	p.Told[first], p.Told[second] = math.Log(20), math.Log(0.5)
	b, err := Begin(p)
	if err != nil {
		t.Fatal(err)
	}
	single := func(b *Belief, f int) *Hyp {
		for i := range b.Hyps {
			if h := &b.Hyps[i]; len(h.Faults) == 1 && h.Faults[0] == f && !h.Intermittent {
				return h
			}
		}
		t.Fatalf("no hypothesis of fault %d", f)
		return nil
	}
	a, c := single(&b, first), single(&b, second)
	want := a.LogPrior - math.Log(20) + c.LogPrior - math.Log(0.5) + b.logPair() + math.Log(20)
	near.Check(t, "before any repair", b.pairPrior(a, c), want, near.Tol{Abs: 1e-12}, "closed form: rates, and what is told of the likelier")
	after, err := b.Repair(context.Background(), Repaired{Class: p.faults()[first].Repair, Cured: No})
	if err != nil {
		t.Fatal(err)
	}
	got := after.pairPrior(single(&after, first), single(&after, second))
	near.Check(t, "after one was cured and the complaint stayed", got, want+math.Log(1-stillThere), near.Tol{Abs: 1e-12}, "closed form: the other fault keeps the complaint")
	near.Check(t, "the cured one alone", single(&after, first).LogPrior, a.LogPrior+math.Log(deadPart), near.Tol{Abs: 1e-12}, "closed form: then the part fitted is dead")
}
