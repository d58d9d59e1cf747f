package diagnosis

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"chargewright/internal/sample"
)

// Importance sampling of the evidence, as an oracle: slow and without the
// method's assumptions. Draws come from a mixture of t(8) around each fit, 1.15
// times as wide, and a tenth of plain prior draws; a first round of them shows
// where else the target is, and half of the second round's draws come from t(8)
// around such points (a posterior may be bent). Weights are target over the whole
// mixture (balance heuristic), so a proposal in the wrong place costs accuracy,
// which the standard error shows, and not truth. Source: Owen & Zhou 2000
// (memory) for the defensive mixture; docs/models/inference.md for the widths.

// proposal is one part of the mixture.
type proposal struct {
	share  float64
	comp   int
	basis  [][]float64 // orthonormal rows: where the readings speak
	centre []float64   // in the basis
	chol   []float64   // of the covariance in the basis, widened
	logDet float64
}

const (
	tails   = 8.0  // degrees of freedom
	wider   = 1.15 // standard deviation of the proposal over the fit's
	defence = 0.1  // share of plain prior draws
)

// proposals makes the mixture of a hypothesis from its fits.
func proposals(h *Hyp, comps []weighted) []proposal {
	var out []proposal
	w := fitWeights(h.Fits)
	for i := range h.Fits {
		k := &h.Fits[i]
		c := slices.IndexFunc(comps, func(x weighted) bool { return x.comp == k.comp })
		// A tenth of the fits' share is spread evenly, so that none starves.
		p := proposal{share: (1 - defence) * (0.9*w[i] + 0.1/float64(len(h.Fits))), comp: c}
		if p.around(k) {
			out = append(out, p)
		}
	}
	for c := range comps {
		out = append(out, proposal{share: defence / float64(len(comps)), comp: c})
	}
	return normalised(out)
}

func normalised(out []proposal) []proposal {
	total := 0.0
	for _, p := range out {
		total += p.share
	}
	for i := range out {
		out[i].share /= total
	}
	return out
}

// around places a proposal at a fit's z with its covariance, widened.
func (p *proposal) around(k *fit) bool {
	p.basis = orthonormal(k.j)
	r := len(p.basis)
	cov := k.covariance(p.basis)
	for a := range r {
		p.centre = append(p.centre, dot(p.basis[a], k.z))
	}
	for a := range cov {
		cov[a] *= wider * wider
	}
	if r > 0 && !cholesky(cov, r) {
		return false
	}
	for a := range r {
		p.logDet += math.Log(cov[a*r+a])
	}
	p.chol = cov
	return true
}

// scout is how many draws the first round has, and extra how many proposals
// come out of it.
const scout, extra = 600, 12

// follow adds proposals around draws of the first round, taken by the root of
// their weights so that the bends are covered and not only the top.
func (f *fitter) follow(props []proposal, comps []weighted, zs [][]float64, from []int, logs []float64) []proposal {
	top := slices.Max(logs)
	sum := 0.0
	for _, l := range logs {
		sum += math.Exp((l - top) / 2)
	}
	out := slices.Clone(props)
	for i := range out {
		out[i].share *= 0.5
	}
	seen, next := 0.0, 0.5/extra
	for i, l := range logs {
		seen += math.Exp((l-top)/2) / sum
		if seen < next {
			continue
		}
		n := 0
		for ; next <= seen; next += 1.0 / extra {
			n++
		}
		k := fit{comp: comps[from[i]].comp, z: zs[i]}
		p := proposal{share: 0.5 * float64(n) / extra, comp: from[i]}
		if f.evaluate(k.comp, k.z, f.bel.data, 0) == nil && f.linearise(&k, f.bel.data) && p.around(&k) {
			out = append(out, p)
		}
	}
	return normalised(out)
}

// orthonormal is Gram and Schmidt on the rows, twice for accuracy.
func orthonormal(rows [][]float64) [][]float64 {
	var q [][]float64
	for _, row := range rows {
		v := slices.Clone(row)
		size := math.Sqrt(dot(v, v))
		for range 2 {
			for _, u := range q {
				d := dot(u, v)
				for k := range v {
					v[k] -= d * u[k]
				}
			}
		}
		n := math.Sqrt(dot(v, v))
		if n <= 1e-9*size || n == 0 {
			continue
		}
		for k := range v {
			v[k] /= n
		}
		q = append(q, v)
	}
	return q
}

// draw fills z: t around the centre where readings speak, the prior elsewhere.
func (p *proposal) draw(rng *rand.Rand, z []float64) {
	for k := range z {
		z[k] = rng.NormFloat64()
	}
	r := len(p.basis)
	if r == 0 {
		return
	}
	chi := 0.0
	for range int(tails) {
		g := rng.NormFloat64()
		chi += g * g
	}
	scale := math.Sqrt(tails / chi)
	e := make([]float64, r)
	for a := range e {
		e[a] = rng.NormFloat64() * scale
	}
	for a := range r {
		at := p.centre[a]
		for k := 0; k <= a; k++ {
			at += p.chol[a*r+k] * e[k]
		}
		move := at - dot(p.basis[a], z)
		for k, u := range p.basis[a] {
			z[k] += move * u
		}
	}
}

// logRatio is log of the proposal's density over the prior's at z.
func (p *proposal) logRatio(z []float64) float64 {
	r := len(p.basis)
	if r == 0 {
		return 0
	}
	e := make([]float64, r)
	q, size := 0.0, 0.0
	for a := range r {
		at := dot(p.basis[a], z)
		size += at * at
		s := at - p.centre[a]
		for k := range a {
			s -= p.chol[a*r+k] * e[k]
		}
		e[a] = s / p.chol[a*r+a]
		q += e[a] * e[a]
	}
	g1, _ := math.Lgamma((tails + float64(r)) / 2)
	g2, _ := math.Lgamma(tails / 2)
	logT := g1 - g2 - float64(r)/2*math.Log(tails*math.Pi) - p.logDet - (tails+float64(r))/2*math.Log1p(q/tails)
	return logT + size/2 + float64(r)*halfLog2Pi
}

// again is the standard error from which the proposals are improved once more by
// what the last round found, and longer how many times the draws that then takes.
// With CHARGEWRIGHT_ALL only: it doubles the test's time.
const again, longer = 0.08, 3

// sampled is the log evidence by importance sampling with its standard error.
// Each round is a sample of its own; only its proposals come from the one before.
func (f *fitter) sampled(h *Hyp, draws int, rng *rand.Rand) (logEv, se float64) {
	f.h = h
	comps := f.bel.prior.components(h)
	props := proposals(h, comps)
	zs, from, logs := f.round(props, comps, scout, rng)
	props = f.follow(props, comps, zs, from, logs)
	zs, from, logs = f.round(props, comps, draws, rng)
	if logEv, se = weighedUp(logs); se < again || !sample.All() {
		return logEv, se
	}
	_, _, logs = f.round(f.follow(props, comps, zs, from, logs), comps, longer*draws, rng)
	return weighedUp(logs)
}

// weighedUp is the log of the mean weight and its standard error.
func weighedUp(logs []float64) (logEv, se float64) {
	n := float64(len(logs))
	logEv = logSumExp(logs) - math.Log(n)
	v := 0.0
	for _, l := range logs {
		d := math.Exp(l-logEv) - 1
		v += d * d
	}
	return logEv, math.Sqrt(v) / n
}

// round draws from a mixture, every proposal its share, and weighs.
func (f *fitter) round(props []proposal, comps []weighted, draws int, rng *rand.Rand) (zs [][]float64, from []int, logs []float64) {
	carry := 0.0
	f.w.Begin()
	for i := range props {
		carry += props[i].share * float64(draws)
		n := int(carry)
		carry -= float64(n)
		for range n {
			z := make([]float64, f.width())
			props[i].draw(rng, z)
			c := props[i].comp
			var mix []float64
			for k := range props {
				if props[k].comp == c {
					mix = append(mix, math.Log(props[k].share)+props[k].logRatio(z))
				}
			}
			l := math.Inf(-1)
			if f.evaluate(comps[c].comp, z, f.bel.data, 0) == nil {
				l = comps[c].logWeight + f.likelihood(f.bel.data) - logSumExp(mix)
			}
			zs, from, logs = append(zs, z), append(from, c), append(logs, l)
		}
	}
	return zs, from, logs
}

// likelihood is the two-box likelihood of all values at the last evaluation.
func (f *fitter) likelihood(data []datum) float64 {
	eps := f.bel.prior.Settings.Epsilon
	l := 0.0
	for i := range data {
		d := &data[i]
		good := d.density(f.h0[i], d.s)
		l += math.Log((1-eps)*good + eps*d.wrongDensity(f.h0[i], d.s))
	}
	return l
}

// oracleCase is one hypothesis of one job.
type oracleCase struct {
	fault    string
	err, se  float64
	post, is float64 // posterior and sampled log of prior x evidence
}

// TestEvidenceAgainstImportanceSampling compares log evidences with importance
// sampling, 2,000 draws a hypothesis (4,000 with CHARGEWRIGHT_ALL), on ten vehicles
// with up to three readings.
//
// Bars (measured attainable on a prototype with other vehicles): |error| median
// 0.30; with each job's common shift taken out, which no posterior over faults
// sees, median 0.12, 95 % 0.70. The 95 % of the whole error is printed, not held:
// it is one job's shift (docs/models/inference.md, known limits). Hypotheses above 0.03 count; those whose
// sampling error is 0.1 or more are left out, and with them the whole job when
// they hold more than half of it, for then nobody knows its common shift. Their
// share is printed. They are the jobs whose machine stands where field regulation
// ends: there the posterior has a corner, which neither the fit nor these
// proposals follow. Over a half left out makes the row worthless.
func TestEvidenceAgainstImportanceSampling(t *testing.T) {
	c := car(t)
	pr := prior(c, "feed-joint-ammeter", "clamp-negative", "earth-joint-block", "brush-worn", "diode-open", "regulator-set-low", "belt-slip", "battery-worn")
	pr.Settings.Surprise, pr.Settings.NoneWakes = 0, 1 // singles only
	plans := [][]string{
		{"battery-rest-volts"},
		{"charge-volts"},
		{"field-draw", "battery-rest-volts"},
		{"loaded-output", "drop-earth"},
		{"battery-rest-volts", "charge-volts", "loaded-output"},
		{"drop-feed", "reg-pin-volts", "idle-volts"},
	}
	truths := []string{"feed-joint-ammeter", "clamp-negative", "brush-worn", "regulator-set-low", "belt-slip", "battery-worn", "clamp-negative", "diode-open", "earth-joint-block", "feed-joint-ammeter"}
	var cases []oracleCase
	var raw, shifted []float64
	left, all := 0, 0
	for job, fault := range truths {
		rng := rand.New(rand.NewPCG(uint64(job), 11))
		rs := take(t, c, &pr, c.Draw(rng, []int{c.Fault(fault)}, 3), rng, plans[job%len(plans)]...)
		b := add(t, begin(t, pr), rs...)
		list := b.oracle(sample.Count(2000, 4000), uint64(job))
		shift, weight := 0.0, 0.0
		for _, k := range list {
			all++
			if k.se >= 0.1 {
				left++
				t.Logf("left out: job %d (%s), %s: standard error %.3f", job, fault, k.fault, k.se)
				continue
			}
			shift += k.post * k.err
			weight += k.post
		}
		if weight < 0.5 {
			for _, k := range list {
				if k.se < 0.1 {
					left++
				}
			}
			t.Logf("left out: job %d (%s) as a whole, %.2f of it sampled well", job, fault, weight)
			continue
		}
		t.Logf("job %d (%s), %d values: common shift %+.2f nat", job, fault, len(b.data), shift/weight)
		for _, k := range list {
			if k.se >= 0.1 {
				continue
			}
			raw = append(raw, math.Abs(k.err))
			shifted = append(shifted, math.Abs(k.err-shift/weight))
			cases = append(cases, k)
			if math.Abs(k.err-shift/weight) > 0.5 {
				t.Logf("far off: job %d (%s), %s (%.4f): error %.2f, shift %.2f, se %.3f", job, fault, k.fault, k.post, k.err, shift/weight, k.se)
			}
		}
	}
	slices.Sort(raw)
	slices.Sort(shifted)
	at := func(v []float64, q float64) float64 { return v[int(q*float64(len(v)-1)+0.5)] }
	t.Logf("%d hypotheses compared, %d of %d (%.0f %%) left out", len(cases), left, all, 100*float64(left)/float64(all))
	t.Logf("|error| median %.3f, 95 %% %.3f; common shift taken out: median %.3f, 95 %% %.3f", at(raw, .5), at(raw, .95), at(shifted, .5), at(shifted, .95))
	if len(cases) < 30 || 2*left > all {
		t.Fatalf("%d hypotheses compared and %d left out: too few to judge", len(cases), left)
	}
	for _, bar := range []struct {
		what     string
		got, bar float64
	}{{"median", at(raw, .5), .30}, {"median without shift", at(shifted, .5), .12}, {"95 % without shift", at(shifted, .95), .70}} {
		if bar.got > bar.bar {
			t.Errorf("%s of |error| is %.3f nat, bar %.2f", bar.what, bar.got, bar.bar)
		}
	}
}

// oracle samples every fitted hypothesis that counts, on both cores.
func (b *Belief) oracle(draws int, seed uint64) []oracleCase {
	var which []int
	for i := range b.Hyps {
		if b.post[i] > 0.03 && !b.Hyps[i].sharesSound(b) && len(b.Hyps[i].Fits) > 0 {
			which = append(which, i)
		}
	}
	out := make([]oracleCase, len(which))
	var wg sync.WaitGroup
	for g := range 2 {
		wg.Go(func() {
			f := newFitter(b)
			defer f.done()
			for k := g; k < len(which); k += 2 {
				h := &b.Hyps[which[k]]
				ev, se := f.sampled(h, draws, rand.New(rand.NewPCG(seed, uint64(which[k]))))
				out[k] = oracleCase{b.name(which[k]), h.LogEvidence - ev, se, b.post[which[k]], h.LogPrior + ev}
			}
		})
	}
	wg.Wait()
	return out
}

// TestOracleOnLinearCar: the sampler itself against a closed form, so that it is
// an oracle and not another opinion. 20,000 draws: standard error under 0.01,
// and the error within four of them.
func TestOracleOnLinearCar(t *testing.T) {
	c := linearCar(t)
	anyVolts(t, 20*anywhere)
	b := add(t, begin(t, linearPrior(c, .02)), restVolts(c, 0.05, 13.6)...)
	inFull(&b)
	f := newFitter(&b)
	defer f.done()
	// closed form: fixture 13.6 V, 2 % wrong: posterior x total / prior.
	for i, want := range []float64{.0180199578, .9810754605, .0009045817} {
		logEv := math.Log(want) - 2.2022191902 - b.Hyps[i].LogPrior
		got, se := f.sampled(&b.Hyps[i], 20000, rand.New(rand.NewPCG(1, uint64(i))))
		// 1e-3: what no draw has seen, like the 8e-5 of the third one's good branch.
		if se > 0.02 || math.Abs(got-logEv) > 4*se+1e-3 {
			t.Errorf("hypothesis %d: sampled %.4f +- %.4f, closed form %.4f", i, got, se, logEv)
		}
	}
}
