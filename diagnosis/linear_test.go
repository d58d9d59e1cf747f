package diagnosis

import (
	"context"
	"math"
	"testing"

	"chargewright/internal/testcar"
	"chargewright/question"
)

// steady are the usual settings for a car whose battery stays as it is: the
// closed forms know no drift.
func steady() Settings {
	s := DefaultSettings()
	s.NoDrift = true
	return s
}

// The linear car (internal/testcar/linear.yaml) makes every integral of the
// method a normal one. Its battery at rest shows a constant + surface charge,
// with the means and spreads of the fixture 14.2 +- .15 (sound), 13.2 +- .30
// (low), 12.4 +- .20 (open); only differences enter, so volts are counted from
// what the sound vehicle shows.

func linearCar(t *testing.T) *testcar.Car {
	t.Helper()
	c, err := testcar.Linear()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// linearPrior is .70 sound, .20 low, .10 open, nothing else.
func linearPrior(c *testcar.Car, eps float64) Prior {
	pr := Prior{Model: c.Model, Rates: map[string]float64{"low": 20, "open": 10}, NoFault: 70, Meters: c.Meters, Settings: steady(), Look: looks(c)}
	pr.Settings.Epsilon, pr.Settings.NonePrior, pr.Settings.PairPrior = eps, 0, 0
	pr.Settings.Flip = math.Inf(-1) // sum every single wrong value
	return pr
}

// inFull fits every hypothesis on all data and sums every branch, however small:
// the method without its short cuts.
func inFull(b *Belief) {
	f := newFitter(b)
	defer f.done()
	f.floor = math.Inf(-1)
	for i := range b.Hyps {
		f.refit(&b.Hyps[i])
	}
	b.normalise()
}

// anyVolts sets the range over which wrong volts may be anywhere.
func anyVolts(t *testing.T, box float64) {
	old, low := boxes[question.Volts], boxLows[question.Volts]
	// It begins at 5 V, so that every reading of the fixture lies inside.
	boxes[question.Volts], boxLows[question.Volts] = box, 5
	t.Cleanup(func() { boxes[question.Volts], boxLows[question.Volts] = old, low })
}

func restVolts(c *testcar.Car, u float64, y ...float64) []question.Reading {
	base := restBase(c)
	var out []question.Reading
	q := question.Question{Setup: question.Setup{Rig: c.Sys.Rig.Rest}, Seek: []question.Observable{{Kind: question.Volts, Red: "batp", Black: "batn", Meter: "dmm"}}}
	for _, v := range y {
		out = append(out, question.Reading{ID: "v", Question: q, Values: []question.Value{{How: question.Measured, X: v - 14.2 + base, U: u}}})
	}
	return out
}

// restBase is what the sound car shows; it stands for 14.2 V.
func restBase(c *testcar.Car) float64 {
	q := question.Question{Setup: question.Setup{Rig: c.Sys.Rig.Rest}, Seek: []question.Observable{{Kind: question.Volts, Red: "batp", Black: "batn", Meter: "dmm"}}}
	v, err := c.Exact(c.Model.NewWorker(), c.Middling(), q)
	if err != nil {
		panic(err)
	}
	return v[0]
}

// total is the log evidence of all hypotheses together.
func total(b *Belief) float64 {
	var logs []float64
	for i := range b.Hyps {
		logs = append(logs, b.Hyps[i].LogPrior+b.Hyps[i].LogEvidence+b.Hyps[i].LogLooks)
	}
	return logSumExp(append(logs, b.LogNone))
}

// TestTwoBoxPosterior reproduces the closed-form posteriors of three normal
// predictions with a two-box likelihood (figures computed to the ten digits
// given). The battery's own resistance bends the model by less than 1e-7 V
// (0.01 mOhm at under 3 mA of gassing), which is 1e-5 nat at the farthest
// reading. The fixture spreads a wrong value evenly over 20 V; the program gives
// half of it to slips (zero, ten times, a thousandth, other sign), none of which
// is near, so the other half over 10 V is the same density.
func TestTwoBoxPosterior(t *testing.T) {
	c := linearCar(t)
	anyVolts(t, 20*anywhere)
	for _, f := range []struct {
		name  string
		y     []float64
		eps   float64
		post  [3]float64
		logEv float64 // 0 = the fixture gives none
	}{
		{"13.6", []float64{13.6}, 0, [3]float64{.0117951005, .9882048235, .0000000760}, -2.1911027018},
		{"13.6, 2 % wrong", []float64{13.6}, .02, [3]float64{.0180199578, .9810754605, .0009045817}, -2.2022191902},
		{"12.0", []float64{12.0}, 0, [3]float64{0, .0036947678, .9963052322}, -3.5210493555},
		{"12.0, 2 % wrong", []float64{12.0}, .02, [3]float64{.0233512178, .0102432910, .9664054912}, -3.5073240805},
		{"9.0: false certainty", []float64{9.0}, 0, [3]float64{0, 1, 0}, -96.6894544798},
		{"9.0, 2 % wrong: the prior comes back", []float64{9.0}, .02, [3]float64{.7, .2, .1}, -6.9077552790},
		{"two readings share the surface charge", []float64{13.6, 13.5}, 0, [3]float64{.0018370951, .9981627463, .0000001586}, -1.2704740855},
	} {
		b, err := Infer(context.Background(), linearPrior(c, f.eps), restVolts(c, 0.05, f.y...))
		if err != nil {
			t.Fatal(err)
		}
		inFull(&b)
		for i, want := range f.post {
			if got := b.Posterior(i); math.Abs(got-want) > 1e-6 {
				t.Errorf("%s: posterior %d is %.10f, want %.10f", f.name, i, got, want)
			}
		}
		// The farthest reading is 13 standard deviations out: 1e-7 V there is
		// 13 x 1e-7/0.05 = 3e-5 nat.
		if got := total(&b); math.Abs(got-f.logEv) > 4e-5 {
			t.Errorf("%s: log evidence %.10f, want %.10f (closed form)", f.name, got, f.logEv)
		}
	}
}

// TestNotIndependent: two readings of one battery must not count as two
// batteries (closed form: the wrong answer would be .0000020708 .9999979292 0).
func TestNotIndependent(t *testing.T) {
	c := linearCar(t)
	b := add(t, begin(t, linearPrior(c, 0)), restVolts(c, 0.05, 13.6, 13.5)...)
	if got := b.Posterior(0); math.Abs(got-.0018370951) > 1e-6 {
		t.Errorf("sound %.10f, want .0018370951; as if independent it would be .0000020708", got)
	}
}

// TestShortCuts holds the method as shipped (lazy fits, improbable wrong-value
// branches left out) against the same method in full. A branch is left out when
// it would carry under e^-2 of its fit or under a ten-thousandth of the job, so
// a value can move a hypothesis that counts by at most log(1 + e^-2) = 0.127 nat;
// one that does not count is below Lazy on either side.
func TestShortCuts(t *testing.T) {
	c := linearCar(t)
	set := steady()
	worst := 0.0
	for y := 11.0; y < 15; y += 0.05 {
		pr := linearPrior(c, set.Epsilon)
		pr.Settings.Flip = set.Flip
		cut := add(t, begin(t, pr), restVolts(c, 0.05, y)...)
		full := add(t, begin(t, linearPrior(c, set.Epsilon)), restVolts(c, 0.05, y)...)
		inFull(&full)
		for i := range full.Hyps {
			if full.Posterior(i) < 2*set.Lazy && cut.Posterior(i) < 2*set.Lazy {
				continue
			}
			d := math.Abs(full.Hyps[i].LogEvidence - cut.Hyps[i].LogEvidence)
			worst = math.Max(worst, d)
			if d > math.Log1p(math.Exp(-2))+1e-6 {
				t.Errorf("%.2f V, hypothesis %d (%.4f): evidence moved by %.4f nat, at most 0.127", y, i, full.Posterior(i), d)
			}
		}
	}
	t.Logf("one value: the short cuts move a log evidence by at most %.4f nat", worst)
}

// ohms asks for a stretch of the three resistors.
func ohms(c *testcar.Car, red, black string, y, u float64) question.Reading {
	s := question.Setup{}
	for i, p := range c.Sys.Rig.Places {
		if p.ID == "earth-cable" {
			s.Rig = c.Sys.Rig.Rest.With(i, 1)
		}
	}
	return question.Reading{ID: red + black, Values: []question.Value{{How: question.Measured, X: y, U: u}}, Question: question.Question{
		Setup: s, Seek: []question.Observable{{Kind: question.Ohms, Red: red, Black: black, Meter: "dmm"}},
	}}
}

// chain is the closed form of the three resistors: readings are sums.
type chain struct {
	sd       [3]float64
	from, to []int     // stretch of each reading, resistors from..to-1
	mean     []float64 // of each reading; the network's leaks of 1e-7 S move it by 1e-7 Ohm
	y        []float64
	u, eps   float64
}

// normalOf is the log density of the readings that are right.
func (c chain) normalOf(t *testing.T, good []int) float64 {
	n := len(good)
	cov, r := make([]float64, n*n), make([]float64, n)
	for a, i := range good {
		r[a] = c.y[i] - c.mean[i]
		for b, j := range good {
			for k := max(c.from[i], c.from[j]); k < min(c.to[i], c.to[j]); k++ {
				cov[a*n+b] += c.sd[k] * c.sd[k]
			}
		}
		cov[a*n+a] += c.u * c.u
	}
	if !cholesky(cov, n) {
		t.Fatal("covariance of the closed form is not positive")
	}
	x := append([]float64(nil), r...)
	cholSolve(cov, n, x)
	l := -dot(r, x)/2 - float64(n)*halfLog2Pi
	for a := range n {
		l -= math.Log(cov[a*n+a])
	}
	return l
}

// ohmsBox is the range of a wrong value in ohms; no slip is near these readings.
func ohmsBox(y float64) float64 { return math.Max(20, 20*y) }

// logEvidence sums over every set of wrong values, each set a normal integral.
func (c chain) logEvidence(t *testing.T) float64 {
	n := len(c.y)
	var logs []float64
	for bad := range 1 << n {
		var good []int
		l := 0.0
		for i := range n {
			if bad>>i&1 == 1 {
				l += math.Log(c.eps * anywhere / ohmsBox(c.y[i]))
			} else {
				good = append(good, i)
				l += math.Log1p(-c.eps)
			}
		}
		l += c.normalOf(t, good)
		logs = append(logs, l)
	}
	return logSumExp(logs)
}

// TestSeveralReadings holds three overlapping readings of three free resistors,
// with and without a wrong one, against the multivariate normal summed over all
// eight sets of wrong values. exp(s z) = 1 + s z + s^2 z^2/2 with s <= 2e-5: at
// z = 4 the model bends by 3.2e-9 Ohm, 4e-4 of the readings' 8 uOhm, times a
// residual of up to 4: 2e-3 nat at most; the fit may stop 1e-3 nat short.
// Sets of two and three wrong values are followed only when one wrong value
// pays, and weigh eps/(2 x 20 Ohm) against a density of 1e4: under 1e-3 nat.
func TestSeveralReadings(t *testing.T) {
	c := linearCar(t)
	const u, tol = 8e-6, 4e-3
	for name, off := range map[string][3]float64{
		"about right":     {8e-6, -1.5e-5, 2e-5},
		"first high":      {4e-5, 3e-5, 0},
		"second high":     {0, 4.5e-5, 4e-5},
		"middle is wrong": {5e-6, 8e-4, 1e-5},
	} {
		rs := []question.Reading{ohms(c, "p1", "p2", 1+off[0], u), ohms(c, "p1", "p3", 2+off[1], u), ohms(c, "p2", "p4", 2+off[2], u)}
		pr := Prior{Model: c.Model, Rates: map[string]float64{"first-high": 20, "second-high": 10}, NoFault: 70, Meters: c.Meters, Settings: steady(), Look: looks(c)}
		pr.Settings.NonePrior, pr.Settings.PairPrior, pr.Settings.Flip = 0, 0, math.Inf(-1)
		b := add(t, begin(t, pr), rs...)
		inFull(&b)
		var logs []float64
		for i, h := range b.Hyps {
			if math.IsInf(h.LogPrior, -1) {
				continue // a pair, which this prior rules out
			}
			m := chain{sd: [3]float64{math.Log(1.00001), math.Log(1.00002), math.Log(1.00001)}, from: []int{0, 0, 1}, to: []int{1, 2, 3}, u: u, eps: pr.Settings.Epsilon}
			for _, r := range rs {
				v, err := c.Exact(c.Model.NewWorker(), c.Middling(h.Faults...), r.Question)
				if err != nil {
					t.Fatal(err)
				}
				m.mean, m.y = append(m.mean, v[0]), append(m.y, r.Values[0].X)
			}
			want := m.logEvidence(t)
			if got := h.LogEvidence; math.Abs(got-want) > tol {
				t.Errorf("%s, hypothesis %d: log evidence %.6f, closed form %.6f", name, i, got, want)
			}
			logs = append(logs, h.LogPrior+want)
		}
		all := logSumExp(logs)
		for i := range logs { // pairs come last
			if got, want := b.Posterior(i), math.Exp(logs[i]-all); math.Abs(got-want) > tol {
				t.Errorf("%s, hypothesis %d: posterior %.6f, closed form %.6f", name, i, got, want)
			}
		}
	}
}

// TestFarWrongReading: one reading of three is wrong by 1,250 meter sds, which is
// 500 sds of the parameter behind it; the fit must come back from there. Closed form (chain.logEvidence): sound 0.896;
// 0.03 for the wrong-value branches that are left out (TestShortCuts).
func TestFarWrongReading(t *testing.T) {
	c := linearCar(t)
	const u = 8e-6
	rs := []question.Reading{ohms(c, "p1", "p2", 1+5e-6, u), ohms(c, "p1", "p3", 2.01, u), ohms(c, "p2", "p4", 2+1e-5, u)}
	pr := Prior{Model: c.Model, Rates: map[string]float64{"first-high": 20, "second-high": 10}, NoFault: 70, Meters: c.Meters, Settings: steady(), Look: looks(c)}
	pr.Settings.NonePrior, pr.Settings.PairPrior = 0, 0
	b := add(t, begin(t, pr), rs...)
	if p := b.Posterior(0); math.Abs(p-.896) > .03 {
		t.Errorf("sound %.3f, closed form .896; p wrong %.2f", p, b.PWrong())
	}
}
