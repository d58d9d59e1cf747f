package main

import (
	"math/rand/v2"

	"chargewright/question"
	"chargewright/truth"
)

// cases draws n hidden vehicles from the frozen rates.
func (w *world) cases(n int, seed uint64) ([]*hiddenCase, error) {
	return w.casesOf(n, seed, truth.DrawOptions{})
}

func (w *world) casesOf(n int, seed uint64, draw truth.DrawOptions) ([]*hiddenCase, error) {
	var out []*hiddenCase
	for i := range n {
		rng := rand.New(rand.NewPCG(seed, uint64(i)))
		v, err := truth.Draw(rng, w.model, w.prac, draw)
		if err != nil {
			return nil, err
		}
		c := w.newCase(v, seed*1_000_003+uint64(i), rng)
		c.number, c.timed = i, i%2 == 1
		c.answer = w.vehicle(c)
		out = append(out, c)
	}
	return out, nil
}

// newCase wraps a vehicle: whether its fault shows is drawn, and the repairs it
// needs are read off.
func (w *world) newCase(v truth.Vehicle, seed uint64, rng *rand.Rand) *hiddenCase {
	c := &hiddenCase{seed: seed, vehicle: v, cache: map[string][]question.Value{}}
	shows := true
	for _, f := range v.Fault.Faults {
		fault := w.sys.Faults[f]
		if fault.Outside {
			c.outside = true
			continue
		}
		if fault.Shows > 0 && rng.Float64() > fault.Shows {
			shows = false
		}
		c.repairs = append(c.repairs, fault.Repair)
	}
	if !shows {
		c.dormant = true
		c.repairs = nil
		c.vehicle.Fault.Faults = nil
	}
	c.answer = w.vehicle(c)
	return c
}

// vehicle is what answers for a case: the product's own model, with its machine in
// the time domain or looked up in tables.
func (w *world) vehicle(c *hiddenCase) truth.Answerer {
	looks := truth.Looks{Procedures: w.procs, Seed: c.seed}
	if c.timed {
		return c.vehicle.Timed(w.model, looks)
	}
	return c.vehicle.Table(w.model, looks)
}

// fresh gives a case to another policy: the same vehicle and readings.
func (w *world) fresh(c *hiddenCase) *hiddenCase {
	d := *c
	d.repairs = append([]string(nil), c.repairs...)
	d.cache, d.solved, d.unsettled = map[string][]question.Value{}, 0, 0
	if !c.fixed {
		d.answer = w.vehicle(&d)
	}
	return &d
}

// through reads exact values with the meters: noise, and in one value in fifty
// one of the slips a technician makes.
func (w *world) through(q question.Question, exact []question.Value, rng *rand.Rand) []question.Value {
	out := make([]question.Value, len(exact))
	for i, v := range exact {
		out[i] = v
		o := q.Seek[i]
		if v.How != question.Measured || o.Kind == question.Speed {
			continue
		}
		share := w.prior.Settings.Epsilon
		if w.slips > 0 {
			share = w.slips
		}
		slip := rng.Float64() < share
		x := v.X + w.prior.Noise(o, v.X)*rng.NormFloat64()
		if slip {
			x = slipped(rng, x)
		}
		if shown, _ := w.prior.Shown(o, x); shown != x {
			// Beyond the meter: it shows the end of its range, or nothing
			// that anybody would write down.
			out[i] = question.Value{How: question.Over, Lo: shown}
			if x < 0 {
				out[i] = question.Value{How: question.NotTaken, Why: "below the meter's range"}
			}
			continue
		}
		out[i].X = x
	}
	return out
}

// slipped is a value as a technician gets it wrong: probe not touching, range
// off by ten or a thousand, leads reversed, a clamp not zeroed.
func slipped(rng *rand.Rand, x float64) float64 {
	switch rng.IntN(5) {
	case 0:
		return 0
	case 1:
		return 10 * x
	case 2:
		return x / 1000
	case 3:
		return -x
	}
	return x + 3
}
