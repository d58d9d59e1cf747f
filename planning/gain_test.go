package planning

import (
	"math"
	"testing"

	"chargewright/diagnosis"
	"chargewright/internal/testcar"
	"chargewright/prediction"
	"chargewright/question"
)

// three is a belief in sound, low and open with these shares of a hundred, on
// the car whose rest volts are normal under each (internal/testcar/linear.yaml).
func three(t *testing.T, sound, low, open float64, look *diagnosis.LookTable) (diagnosis.Belief, *testcar.Car) {
	t.Helper()
	c, err := testcar.Linear()
	if err != nil {
		t.Fatal(err)
	}
	pr := diagnosis.Prior{
		Model: c.Model, Rates: map[string]float64{"low": low, "open": open}, NoFault: sound, Meters: c.Meters,
		Settings: diagnosis.DefaultSettings(), Look: func(string) *diagnosis.LookTable { return look },
	}
	pr.Settings.NonePrior, pr.Settings.PairPrior, pr.Settings.LookEpsilon = 0, 0, 0
	pr.Settings.NoDrift = true // the integral knows none
	b, err := diagnosis.Begin(pr)
	if err != nil {
		t.Fatal(err)
	}
	return b, c
}

// TestLookGain: prior .5 .3 .2 and P(+) .9 .2 .1 give 0.3136672906 nat (closed
// form: mutual information of the table, computed to ten digits).
func TestLookGain(t *testing.T) {
	look := &diagnosis.LookTable{Classes: []string{"+", "-"}, Given: map[string][]float64{"low": {.2, .8}, "open": {.1, .9}}, Otherwise: []float64{.9, .1}}
	b, _ := three(t, 50, 30, 20, look)
	c := classify(&b)
	agree(t, "bits of the look", lookGain(&b, &c, look), 0.3136672906/math.Ln2, 1e-9)
}

// restGain returns what the planner's sampling and quadrature say a reading of
// rest volts is worth.
func restGain(t *testing.T, samples int) (sampled, exact float64) {
	t.Helper()
	b, car := three(t, 70, 20, 10, nil)
	q := question.Question{Setup: question.Setup{Rig: car.Sys.Rig.Rest}, Seek: []question.Observable{{Kind: question.Volts, Red: "batp", Black: "batn", Meter: "dmm"}}}
	asked, err := car.Model.Ask(q)
	if err != nil {
		t.Fatal(err)
	}
	joints := b.Forecast([]*prediction.Asked{&asked}, 0)[0]
	c := classify(&b)
	sampled = numericGain(&b, &c, &asked, prepare(&b, &c, &asked, joints), newDraws(samples))
	eps, prior := b.Prior().Settings.Epsilon, []float64{.7, .2, .1}
	offset := []float64{0, -1, -1.8}
	spread := []float64{.15, .3, .2}
	// closed form: 20,000 panels over 14 V, far beyond every spread.
	const n, lo, hi = 20000, -8.0, 6.0
	box := b.Prior().Box(q.Seek[0], 12)
	for k := range n {
		y := lo + (hi-lo)*(float64(k)+.5)/n
		post, all := make([]float64, 3), 0.0
		for i := range post {
			s := math.Hypot(spread[i], b.Prior().Noise(q.Seek[0], joints[0].Mean[0]+offset[i]))
			d := math.Exp(-(y-offset[i])*(y-offset[i])/(2*s*s)) / (s * math.Sqrt(2*math.Pi))
			all += prior[i] * d
			post[i] = prior[i] * ((1-eps)*d + eps/box)
		}
		exact += all * (entropy(prior) - entropy(post)) * (hi - lo) / n
	}
	return sampled, exact
}

// TestFarIsNothing: leaving out densities under e^-75 changes no score.
func TestFarIsNothing(t *testing.T) {
	b, car := three(t, 70, 20, 10, nil)
	q := question.Question{Setup: question.Setup{Rig: car.Sys.Rig.Rest}, Seek: []question.Observable{{Kind: question.Volts, Red: "batp", Black: "batn", Meter: "dmm"}}}
	asked, err := car.Model.Ask(q)
	if err != nil {
		t.Fatal(err)
	}
	c := classify(&b)
	g := prepare(&b, &c, &asked, b.Forecast([]*prediction.Asked{&asked}, 0)[0])
	g[0].mean[0] += 40 // far from the others
	short := numericGain(&b, &c, &asked, g, newDraws(200))
	left := 0
	for i := range g {
		if g[i].density([]float64{g[0].mean[0]}, make([]float64, 1)) == 0 {
			left++
		}
		g[i].far = math.Inf(1)
	}
	// closed form: e^-75 against a wrong value's 0.02 over 20 V
	agree(t, "bits with nothing left out", numericGain(&b, &c, &asked, g, newDraws(200)), short, 1e-12)
	if left == 0 {
		t.Error("nothing was left out")
	}
}

// TestNumericGain: the sampled score of a measurement is the integral it stands
// for. The sampler puts readings evenly over the components and takes both signs
// of every deviate; with 20,000 its standard error is about 0.5/sqrt(20000) =
// 0.004 bit at most; 0.008 is two of them. With the shipped 48 the same draws
// serve every test, so a common error cancels between tests; 0.1 bit is held.
func TestNumericGain(t *testing.T) {
	sampled, exact := restGain(t, 20000)
	agree(t, "bits of rest volts, 20,000 samples", sampled, exact, 0.008)
	few, _ := restGain(t, DefaultSettings().Samples)
	t.Logf("quadrature %.4f bit, 20,000 samples %.4f, %d samples %.4f", exact, sampled, DefaultSettings().Samples, few)
	agree(t, "bits of rest volts, shipped samples", few, exact, 0.1)
}

// TestSeparatesByEveryValue: a test is for the two causes that any of its values
// parts, not only those that the first one does. Closed form: in the first value
// brush and battery lie one spread apart, in the second brush and rotor six; a
// class of two components is as wide as both together.
func TestSeparatesByEveryValue(t *testing.T) {
	c := classes{names: []string{"battery", "brush", "rotor", beyond}, share: []float64{.2, .4, .4, 0}}
	at := func(class int, first, second float64) gauge {
		return gauge{class: class, weight: 1, mean: []float64{first, second}, chol: []float64{.7, 0, 0, .7}}
	}
	g := []gauge{at(0, 1, 3), at(1, 0, 0), at(2, 0, 6)}
	if got := separates(&c, g); len(got) != 2 || got[0] != "brush" || got[1] != "rotor" {
		t.Errorf("it is said to part %q, want brush and rotor", got)
	}
	wide := []gauge{at(0, 0, 0), at(1, 0, -6), at(1, 0, 6), at(2, 0, 3)}
	if got := separates(&c, wide); len(got) != 2 || got[0] == "brush" && got[1] == "rotor" {
		t.Errorf("it is said to part %q: what lies on both sides of the other is not parted", got)
	}
}
