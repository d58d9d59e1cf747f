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

// TestRepeatsOfABound: a meter that is over its range does not tell more by being over it
// again. Closed form: the chance that one quantity, normal as the first reading leaves it,
// lies with the noise of each of n readings beyond the bound, an integral over the quantity.
func TestRepeatsOfABound(t *testing.T) {
	const (
		source = "closed form: integral of normal density times the n-th power of a normal tail"
		u      = 0.05
	)
	c := linearCar(t)
	for _, n := range []int{1, 2, 4, 8} {
		for _, off := range []float64{-0.5, -0.05, 0, 0.3} {
			volts := make([]float64, n)
			for i := range volts {
				volts[i] = 14.2 + off
			}
			rs := restVolts(c, u, volts...)
			for i := range rs {
				v := &rs[i].Values[0]
				v.How, v.Lo = question.Over, v.X
			}
			b, err := Infer(context.Background(), linearPrior(c, 0), rs)
			if err != nil {
				t.Fatal(err)
			}
			inFull(&b)
			want, step := 0.0, 1e-3
			for x := 14.2 - 8*0.15; x < 14.2+8*0.15; x += step {
				want += step * distuv.Normal{Mu: 14.2, Sigma: 0.15}.Prob(x) * math.Pow(distuv.Normal{Mu: x, Sigma: u}.Survival(14.2+off), float64(n))
			}
			// What is cut off goes on as a normal, which it is not: a tenth of a nat
			// with eight of them; as if each were of its own vehicle it would be nats.
			if got := b.Hyps[0].LogEvidence; math.Abs(got-math.Log(want)) > 0.12 {
				t.Errorf("%d times over, %+g V: log evidence %.3f, want %.3f (%s)", n, off, got, math.Log(want), source)
			}
		}
	}
}

// TestCutOff: far out there is no probability left in a difference of two, and still a
// logarithm of it.
func TestCutOff(t *testing.T) {
	const source = "closed form: Mills ratio, log P = -x^2/2 - log(x sqrt(2 pi)) - 1/x^2 within 3/x^4"
	for _, x := range []float64{10, 19.99, 20.01, 30} {
		want := -x*x/2 - math.Log(x*math.Sqrt(2*math.Pi)) - 1/(x*x)
		for _, edges := range [][2]float64{{x, math.Inf(1)}, {math.Inf(-1), -x}} {
			if got, _, _ := cutOff(edges[0], edges[1]); math.Abs(got-want) > 3/(x*x*x*x) {
				t.Errorf("%v: log %.8f, want %.8f (%s)", edges, got, want, source)
			}
		}
	}
	if p, mean, variance := cutOff(-1, 1); math.Abs(p-math.Log(0.682689492)) > 1e-8 || mean != 0 || math.Abs(variance-0.291125) > 1e-5 {
		t.Errorf("between -1 and 1: log %.9f, mean %g, variance %.6f (closed form: 1 - 2 phi(1)/P)", p, mean, variance)
	}
}
