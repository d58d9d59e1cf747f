package diagnosis

import (
	"math"
	"testing"

	"chargewright/question"
)

// TestNoneIsADensity: what none-of-these predicts of one value must integrate to
// one over all values, or it is favoured before anything is read.
func TestNoneIsADensity(t *testing.T) {
	c := linearCar(t)
	pr := linearPrior(c, .02)
	pr.Settings.NonePrior = .02
	q := restVolts(c, 0.05, 13)[0].Question
	sum := 0.0
	// The tail left outside the box adds 280/20 times 1e-4 of it. Steps are as long
	// as the meter's standard uncertainty, which no part of the density is narrower
	// than: of a normal the midpoints then leave 2 exp(-2 pi^2), 5e-9 of it (closed
	// form: Poisson's sum).
	const lo, hi, n = -140.0, 140.0, 5600
	b := begin(t, pr)
	was := b.LogNone
	for k := range n {
		y := lo + (hi-lo)*(float64(k)+.5)/n
		nb, err := b.With(question.Reading{ID: "v", Question: q, Values: []question.Value{{How: question.Measured, X: y, U: .05}}})
		if err != nil {
			continue
		}
		sum += math.Exp(nb.LogNone-was) * (hi - lo) / n
	}
	if math.Abs(sum-1) > 0.01 {
		t.Errorf("none-of-these integrates to %.3f", sum)
	}
}
