package diagnosis

import (
	"context"
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"chargewright/question"
)

// TestOneSided: two readings of one battery, the first a value, the second only a side of
// a bound. Closed form: the surface charge is normal about each hypothesis' mean with the
// spreads of the fixture, both readings have the meter's noise, so that the evidence is the
// density of the first times the chance of the second given the first, which is normal in
// closed form. The bound lies on either side of what the first leaves, near and far.
func TestOneSided(t *testing.T) {
	const (
		source = "closed form: conditional normal"
		u      = 0.05
		// The battery's own resistance bends volts by 1e-7 (TestTwoBoxPosterior): 1e-5
		// nat where a bound lies eight spreads off.
		tol = 1e-4
	)
	c := linearCar(t)
	mean, spread := [3]float64{14.2, 13.2, 12.4}, [3]float64{.15, .30, .20}
	for _, first := range []float64{13.6, 12.9} {
		for _, off := range []float64{-0.6, -0.1, -0.03, 0, 0.03, 0.1, 0.4} {
			for _, how := range []question.How{question.Over, question.Under} {
				t.Run(fmt.Sprintf("%g V, %s %+g", first, how, off), func(t *testing.T) {
					rs := restVolts(c, u, first, first+off)
					v := &rs[1].Values[0]
					v.How, v.Lo, v.Hi = how, v.X, v.X
					b, err := Infer(context.Background(), linearPrior(c, 0), rs)
					if err != nil {
						t.Fatal(err)
					}
					inFull(&b)
					for i := range b.Hyps {
						sd2 := spread[i] * spread[i]
						all := distuv.Normal{Mu: mean[i], Sigma: math.Sqrt(sd2 + u*u)}
						// The second, given the first.
						k := sd2 / (sd2 + u*u)
						next := distuv.Normal{Mu: mean[i] + k*(first-mean[i]), Sigma: math.Sqrt(sd2*(1-k) + u*u)}
						p := next.CDF(first + off)
						if how == question.Over {
							p = next.Survival(first + off)
						}
						want := all.LogProb(first) + math.Log(p)
						if got := b.Hyps[i].LogEvidence; math.Abs(got-want) > tol {
							t.Errorf("hypothesis %d: log evidence %.5f, want %.5f (%s)", i, got, want, source)
						}
					}
				})
			}
		}
	}
}
