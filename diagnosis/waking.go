package diagnosis

import (
	"math"

	"chargewright/question"
)

// A machine that feeds its own field is asleep or awake, and what it reads jumps
// between the two. A fit follows derivatives: it neither sees the other side nor can
// go along the edge. How far the machine is from waking goes smoothly
// (prediction.Worker.Waking), so a fit that came out badly is done again with that
// distance as a value more, which must stay on one side.

// Limits of such a fit.
const (
	wakeProbe  = -1   // datum.probe of such a value
	wakeSide   = 0.02 // how far from the edge its side begins [V]: twice what it is held by
	wakeSD     = 0.01 // how firmly it is held [V]
	wakeOdd    = 3.0  // spreads from the prediction at which a value may be that of the other state
	wakeBeyond = 5.0  // spreads from the edge beyond which the other state is not thought of
)

// elsewhere fits a single fault (or none) again where a machine's two ways to stand
// hide one from the other, when a fit came out as one seldom does or was given up though its
// hypothesis stood well: full field where it regulates, asleep where it is awake, and the reverse.
func (f *fitter) elsewhere(c weighted, s start, g fit, ok bool, data []datum) (fit, bool) {
	m := f.bel.prior.Model
	if !ok || len(f.h.Faults) > 1 || !g.cut && !f.odd(c, &g, s, data) {
		return g, ok
	}
	g = f.pressed(c, s, g, data)
	known := s.at.n > 0 || f.unfitted()
	if m.CanWake() && known && (g.cut || f.odd(c, &g, s, data)) && f.worth(c, s.at.most(s.bad, data, f.bel.prior.Settings.Epsilon)) {
		badly := !g.cut && suspicious(g.phi, len(data))
		if o, ok := f.sides(c, s, data, badly); ok && !o.cut && (g.cut || o.phi < g.phi) {
			return o, true
		}
	}
	return g, true
}

// pressed fits again from where the regulator does the other thing.
func (f *fitter) pressed(c weighted, s start, g fit, data []datum) fit {
	if !f.odd(c, &g, s, data) && !(g.cut && f.stoodWell(s)) {
		return g
	}
	m := f.bel.prior.Model
	regulates, full := f.stands(&g)
	if regulates {
		g = f.more(c, s, m.Pressed(s.at.z), g, data)
	}
	if full {
		g = f.more(c, s, m.Eased(s.at.z), g, data)
	}
	return g
}

// stands says whether what a fit predicts hangs on the set point at some operating points,
// and at others on the machine and not on the set point. Of one that was given up nothing is known.
func (f *fitter) stands(g *fit) (regulates, full bool) {
	if g.cut {
		return true, true
	}
	for _, row := range g.g {
		set, flux := f.bel.prior.Model.BySetPoint(row)
		regulates = regulates || set
		full = full || flux && !set
	}
	return regulates, full
}

// stoodWell says whether the hypothesis had a part in the job before the latest data and
// what is begun from knows what was read until then, nothing of it wrong. Where such a fit is given
// up it is the latest values that dragged it, perhaps to where its machine stands the other way.
func (f *fitter) stoodWell(s start) bool {
	return f.h.stood > stoodAt && s.at.n > 0 && s.bad.none()
}

// stoodAt is the share of the job that such a hypothesis had.
const stoodAt = 0.01

// odd says whether a fit came out so that another start is worth a try: the values that
// came since the one it began from raised the objective as they seldom do, under a hypothesis that leads
// as they do not on average, and it could count if another start undid that.
func (f *fitter) odd(c weighted, g *fit, s start, data []datum) bool {
	if g.cut {
		return false
	}
	rose, n := g.phi-s.at.phi, len(data)-s.at.n
	much := seldom(rose, n) || f.h.stood > leadsAt && 2*rose > float64(n)
	return much && f.worth(c, g.logEv+rose)
}

// leadsAt is the share of the job from which a hypothesis leads: there are never many.
const leadsAt = 0.1

// seldom reports an objective that only one fitted vehicle in ten would give (the
// upper tenth of chi-squared with n degrees, after Cornish and Fisher). With few
// readings a fit can miss the other side by seven nats and not be suspicious yet.
func seldom(phi float64, n int) bool {
	return 2*phi > float64(n)+1.282*math.Sqrt(2*float64(n))+0.43
}

// sides fits again from a start, with every running operating point held to the
// state that its readings speak for, and gives back what comes of it without that
// hold. Where badly is not set it does so only if some readings speak for the other
// state.
func (f *fitter) sides(c weighted, s start, data []datum, badly bool) (fit, bool) {
	held, odd, ok := f.waking(c, s, data, badly)
	if !ok {
		return fit{}, false
	}
	own, floor := f.own, f.floor
	f.own, f.floor = math.Inf(-1), math.Inf(-1) // what a hold costs says nothing of what the fit is worth
	at := s.at.z
	if !odd.none() {
		// Values of the other state say nothing on the way there.
		g, ok := f.run(c, s.bad.or(odd), start{at: &fit{z: at}}, held)
		if ok {
			at = g.z
		}
	}
	g, ok := f.run(c, s.bad, start{at: &fit{z: at}}, held)
	f.own, f.floor = own, floor
	if !ok {
		return g, false
	}
	return f.run(c, s.bad, start{at: &fit{z: g.z}}, data)
}

// waking adds to data a value for every running operating point, which says on which
// side of the edge it is; odd are the values that speak for another state than the
// one at the start.
func (f *fitter) waking(c weighted, s start, data []datum, badly bool) (held []datum, odd wrongs, ok bool) {
	z := make([]float64, f.width())
	copy(z, s.at.z)
	row := make([]float64, f.width())
	var last place
	for _, i := range f.order(data) {
		d := &data[i]
		a := &f.bel.asked[d.asked]
		at := f.placeOf(d)
		if at == last || s.bad.has(i) || !f.bel.prior.Model.Wakes(a) {
			continue
		}
		last = at
		f.w.Hold(f.bel.physical(f.h, d.showing, d.epoch), c.comp, z[:f.dims])
		f.work.Solves++
		if f.w.Solve(a) != nil {
			return nil, wrongs{}, false
		}
		mine := f.oddAt(at, s.bad, z, data)
		if mine.none() && !badly {
			continue
		}
		clear(row)
		v, err := f.w.Waking(row[:f.dims])
		if err != nil {
			return nil, wrongs{}, false
		}
		if !mine.none() && math.Abs(v)+wakeSide < wakeBeyond*math.Sqrt(dot(row, row)) {
			odd = odd.or(mine)
			v = -v
		}
		held = append(held, wakeDatum(d, v > 0))
	}
	if len(held) == 0 || odd.none() && !badly {
		return nil, wrongs{}, false
	}
	return append(append([]datum(nil), data...), held...), odd, true
}

// wakeDatum is a value that says on which side of the edge an operating point is.
func wakeDatum(of *datum, awake bool) datum {
	d := datum{reading: -1, value: -1, asked: of.asked, probe: wakeProbe, s: wakeSD, how: question.Over, showing: of.showing, epoch: of.epoch}
	d.lo, d.hi = wakeSide, math.Inf(1)
	if !awake {
		d.lo, d.hi = math.Inf(-1), -wakeSide
	}
	return d
}

// oddAt are the values of the operating point that was solved last, where one of
// them is far from what is predicted there.
func (f *fitter) oddAt(at place, bad wrongs, z []float64, data []datum) (all wrongs) {
	row := make([]float64, f.width())
	odd := false
	for i := range data {
		d := &data[i]
		a := &f.bel.asked[d.asked]
		if bad.has(i) || f.placeOf(d) != at {
			continue
		}
		all = all.with(i)
		h := f.read(&a.Probes[d.probe], d.reading, z, row)
		odd = odd || math.Abs(residual(d, h)*d.s) > wakeOdd*math.Hypot(d.s, math.Sqrt(dot(row, row)))
	}
	if !odd {
		return wrongs{}
	}
	return all
}

// edge is the value of an operating point's distance from waking, for evaluate.
func (f *fitter) edge(i int) error {
	clear(f.rows[i])
	v, err := f.w.Waking(f.rows[i][:f.dims])
	f.h0[i] = v
	return err
}

// most is the log evidence that a fit would have if it met what came since without
// moving.
func (f *fit) most(bad wrongs, data []datum, eps float64) float64 {
	if f.n == 0 {
		return math.Inf(1)
	}
	le := f.was
	for i := f.n; i < len(data); i++ {
		if !bad.has(i) {
			le += data[i].logMet(eps)
		}
	}
	return le
}
