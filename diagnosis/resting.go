package diagnosis

import (
	"math"

	"chargewright/question"
)

// Of two machines on one line the one with the lower set-point rests. What it reads then
// hangs on nothing, but on the way there it trickles, and its amps go steeply with both
// set-points: a fit that reaches nothing by a trickle takes the difference of the set-points
// as known to a millivolt, and cannot leave from there to where the machine rests clearly.
// Such a fit is begun again from there. So is one of a machine whose control unit asks for less than the battery
// has: its amps go from nothing by a hundred amps a volt of what is asked.

// Limits of that.
const (
	restsWithin = 3.0 // spreads from nothing within which amps are those of a machine at rest
	tricklesBy  = 5.0 // spreads of its meter that they move by with a spread of the figures: at rest under one, at the knee hundreds [computed]
)

// resting fits a single fault (or none) again from where a machine that can rest clearly
// does, when a fit was given up or makes it trickle. What has more evidence
// stays: a trickle fits as well as rest does, but over a sliver of the figures.
func (f *fitter) resting(c weighted, s start, g fit, data []datum) fit {
	m := f.bel.prior.Model
	if !m.CanRest() || len(f.h.Faults) > 1 {
		return g
	}
	at := g.z
	if g.cut {
		at = s.at.z
		if s.at.n == 0 || !f.worth(c, s.at.most(s.bad, data, f.bel.prior.Settings.Epsilon)) {
			return g
		}
	}
	if !f.atRest(&g, data) {
		return g
	}
	o, ok := f.run(c, s.bad, start{at: &fit{z: m.Parted(at)}}, data)
	if ok && !o.cut && (g.cut || o.logEv > g.logEv) {
		return o
	}
	return g
}

// atRest says whether some amps speak of rest; of a fit that was not given up, whether
// it makes them trickle.
func (f *fitter) atRest(g *fit, data []datum) bool {
	for i := range data {
		d := &data[i]
		probe := d.probe
		if d.how != question.Measured || g.bad.has(i) || math.Abs(d.y) > restsWithin*d.s ||
			f.bel.asked[d.asked].Probes[probe].Obs.Kind != question.Amps {
			continue
		}
		if g.cut || dot(g.g[i], g.g[i]) > tricklesBy*tricklesBy*d.s*d.s {
			return true
		}
	}
	return false
}
