package main

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"

	"chargewright/circuit"
	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/regulator"
	"chargewright/system"
)

// simulated is what one procedure reads on a situation's vehicles.
type simulated struct {
	p          *question.Procedure
	q          question.Question
	refused    string // why it cannot be done, "" = it can
	unsolved   bool   // no part of the vehicles has an operating point
	regime     circuit.Regime
	second     circuit.Regime // of a second regulator
	roots      int
	regulatorK float64 // temperature of the regulator [K]
	values     []predicted
	look       []float64 // share of each class
}

// predicted is one value: how it spreads over vehicles that are alike but for
// their free figures, and what the meter adds.
type predicted struct {
	obs      question.Observable
	at       int // in the procedure's values
	parts    []part
	straight bool // a straight line in the free figures describes the spread
	u        float64
	resolves float64
	over     float64 // end of the meter's largest range when the value is beyond it
	limits   []system.Limit
}

// part is a share of the vehicles: a normal whose two halves may differ in
// width, so that a reading that bends in the free figures keeps its ends.
type part struct{ weight, mid, below, above float64 }

// cdf is the share of vehicles that read less than x.
func (v *predicted) cdf(x float64) float64 {
	sum := 0.0
	for _, p := range v.parts {
		sd := p.above
		if x < p.mid {
			sd = p.below
		}
		switch {
		case sd > 0:
			sum += p.weight * distuv.UnitNormal.CDF((x-p.mid)/sd)
		case x >= p.mid:
			sum += p.weight
		}
	}
	return sum
}

// quantile is what the share q of the vehicles reads at most.
func (v *predicted) quantile(q float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range v.parts {
		lo, hi = math.Min(lo, p.mid-8*p.below), math.Max(hi, p.mid+8*p.above)
	}
	for range 100 {
		mid := lo + (hi-lo)/2
		if v.cdf(mid) < q {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// within is the share of the vehicles inside a limit.
func (v *predicted) within(low, high *float64) float64 {
	share := 1.0
	if high != nil {
		share = v.cdf(*high)
	}
	if low != nil {
		share -= v.cdf(*low)
	}
	return math.Min(math.Max(share, 0), 1)
}

// simulate works out one procedure.
func (s *situation) simulate(w *prediction.Worker, p *question.Procedure) simulated {
	out := simulated{p: p}
	if p.Look != nil {
		out.look = s.see(p)
		return out
	}
	var err error
	if out.q, err = s.question(p); err != nil {
		out.refused = err.Error()
		return out
	}
	asked, err := s.model.Ask(out.q)
	if err != nil {
		out.refused = err.Error()
		return out
	}
	for i, o := range p.Measure {
		if o.Kind != question.Speed {
			out.values = append(out.values, predicted{obs: o, at: i, straight: true})
		}
	}
	out.regulatorK = s.model.Values(s.hyp, s.middle(), out.q.Setup, make([]float64, s.model.Dims())).Law[regulator.Temperature]
	s.spread(w, &asked, &out)
	if out.unsolved {
		return out
	}
	for i := range out.values {
		out.values[i].measured(s.limitsOf(p, out.values[i].at, out.regulatorK))
	}
	s.label(w, &asked, &out)
	return out
}

// label looks which branch the middle vehicle is on and whether there are
// others, with the engine turning.
func (s *situation) label(w *prediction.Worker, asked *prediction.Asked, out *simulated) {
	if out.q.Setup.Engine == 0 {
		return
	}
	w.Begin()
	w.Hold(s.hyp, s.middle(), make([]float64, s.model.Dims()))
	if w.Solve(asked) != nil {
		return
	}
	out.regime, out.roots = w.Sheet().Regime, w.Sheet().Roots
	if all := w.Sheets(); len(all) > 1 {
		out.second = all[1].Regime
	}
	if s.sys.Machine.DPlus != "" {
		return // asleep or awake: which of them follows from the speed since the start
	}
	if n, err := w.Points(); err == nil {
		out.roots = max(out.roots, n)
	}
}

// spread fills the parts of every value: the reading at the middle of each part
// of the magnitudes' range, and how far it goes when the free figures go 1.645
// standard deviations the way that moves it most, each way.
func (s *situation) spread(w *prediction.Worker, asked *prediction.Asked, out *simulated) {
	comps := s.components()
	zero, row := make([]float64, s.model.Dims()), make([]float64, s.model.Dims())
	solved := 0.0
	for _, c := range comps {
		w.Begin()
		w.Hold(s.hyp, c, zero)
		if w.Solve(asked) != nil {
			continue
		}
		solved++
		rows := make([][]float64, len(out.values))
		for i := range out.values {
			mid := w.Read(&asked.Probes[i], row)
			rows[i] = append([]float64(nil), row...)
			sd := floats.Norm(row, 2)
			out.values[i].parts = append(out.values[i].parts, part{1, mid, sd, sd})
		}
		for i := range out.values {
			v := &out.values[i]
			at := &v.parts[len(v.parts)-1]
			v.straight = s.ends(w, asked, i, c, rows[i], at) && v.straight
		}
	}
	out.unsolved = solved == 0
	for i := range out.values {
		for k := range out.values[i].parts {
			out.values[i].parts[k].weight = 1 / solved
		}
	}
}

// bent is how far the reading at the end of the interval may be from the
// straight line, as a share of the line's own way.
const bent = 0.25

// ends replaces the straight line's spread by what the model reads at both ends
// of the interval. It reports whether the line was good enough. Where the model
// has no answer there, or turns back, the line stands.
func (s *situation) ends(w *prediction.Worker, asked *prediction.Asked, i int, c prediction.Component, row []float64, at *part) bool {
	sd := at.above
	if sd <= 1e-9*math.Abs(at.mid) {
		return true
	}
	straight := true
	z := make([]float64, len(row))
	for _, sign := range []float64{-1, 1} {
		for k := range z {
			z[k] = sign * ninetieth * row[k] / sd
		}
		w.Begin()
		w.Hold(s.hyp, c, z)
		if w.Solve(asked) != nil {
			straight = false
			continue
		}
		way := sign * (w.Read(&asked.Probes[i], nil) - at.mid) / ninetieth
		if math.Abs(way-sd) > bent*sd {
			straight = false
		}
		switch {
		case way <= 0:
		case sign > 0:
			at.above = way
		default:
			at.below = way
		}
	}
	return straight
}

// measured adds what the meter does to a value, and its limits.
func (v *predicted) measured(limits []system.Limit) {
	v.limits = limits
	in, ok := meter.Find(v.obs.Meter)
	if !ok {
		return
	}
	u, resolution, _, err := in.Standard(string(v.obs.Kind), v.quantile(0.5))
	var over *meter.OverRange
	if errors.As(err, &over) {
		v.over = over.Full
		return
	}
	if err == nil {
		v.u, v.resolves = u, resolution
	}
}

// limitsOf lists a value's limits as they are at the regulator's temperature.
func (s *situation) limitsOf(p *question.Procedure, value int, kelvin float64) []system.Limit {
	var out []system.Limit
	for _, l := range s.sys.Limits {
		if l.Procedure != p.ID || l.Value != value {
			continue
		}
		shift := l.PerKelvin * (kelvin - limitsAt)
		l.Low, l.High = moved(l.Low, shift), moved(l.High, shift)
		out = append(out, l)
	}
	return out
}

// limitsAt is the temperature at which limits are stated [K].
const limitsAt = 300.15

func moved(x *float64, by float64) *float64 {
	if x == nil {
		return nil
	}
	v := *x + by
	return &v
}

// see is the share of each class of a look under the situation's faults; two
// faults act as independent odds. Slips of whoever looks are not in it.
func (s *situation) see(p *question.Procedure) []float64 {
	share := append([]float64(nil), p.Look.Otherwise...)
	for _, f := range s.hyp.Faults {
		given, ok := p.Look.Given[s.sys.Faults[f].ID]
		if !ok {
			continue
		}
		for i := range share {
			share[i] *= given[i] / math.Max(p.Look.Otherwise[i], 1e-6)
		}
	}
	floats.Scale(1/floats.Sum(share), share)
	return share
}

// regimes in words.
var regimes = map[circuit.Regime]string{
	circuit.Resting:    "the regulator gives no field",
	circuit.Regulating: "regulating",
	circuit.Full:       "full field",
	circuit.Latched:    "full field, and it holds itself there",
	circuit.Asleep:     "asleep: not woken since the start",
}

// others words that there is more than one operating point.
func (x *simulated) others() string {
	if x.roots < 2 {
		return ""
	}
	return fmt.Sprintf("%d operating points exist: this is the one that charging settles on; a vehicle that did not start to charge may stay at another", x.roots)
}
