package main

import (
	"fmt"
	"io"
	"math/rand/v2"

	"chargewright/truth"
)

// stressSet is a workshop in which something is not as the program believes.
type stressSet struct {
	name    string
	draw    truth.DrawOptions
	slips   float64 // share of wrong values; 0 = as the program believes
	outside float64 // share of vehicles whose fault is not on the list
	minutes bool    // what takes how long is twice or half of what is believed
	against bool    // the fixed order is played too
}

// Sizes of what is wrong. Source: as the bar for each asks (docs/results.md).
const (
	rateFactor   = 3.0
	spreadFactor = 1.5
	manySlips    = 0.05
	manyOutside  = 0.05
	timeFactor   = 2.0
	stressSeed   = 17 // of what is twice and what is half
)

func stressSets() []stressSet {
	return []stressSet{
		{name: "spreads x 1.5", draw: truth.DrawOptions{Spread: spreadFactor}},
		{name: "rates x or / 3", draw: truth.DrawOptions{Rate: func(fault string, rate float64) float64 { return rate * twoSided("rate "+fault, rateFactor) }}},
		{name: "wrong values 5 %", slips: manySlips},
		{name: "outside the list 5 %", outside: manyOutside},
		{name: "faults bring others", draw: truth.DrawOptions{Follows: true}},
		{name: "minutes x or / 2", minutes: true, against: true},
	}
}

// twoSided is a factor or its inverse, by a coin that belongs to the name.
func twoSided(name string, factor float64) float64 {
	if rand.New(rand.NewPCG(stressSeed, hash(name))).IntN(2) == 0 {
		return factor
	}
	return 1 / factor
}

// sets plays every stress set with the planner.
func (w *world) sets(out io.Writer, o options) error {
	fmt.Fprintf(out, "%d vehicles each, seed %d.\n\n", o.jobs, o.seed)
	fmt.Fprintln(out, "| set | policy | minutes | over the floor | right first time | wrong parts a job | confident wrong (bar 2 %) | readings | gave up | gap of shares, its floor |")
	fmt.Fprintln(out, "|---|---|---|---|---|---|---|---|---|---|")
	pols, err := w.policies(o.stops[0], o.stops[1], 0)
	if err != nil {
		return err
	}
	defer func() { w.slips, w.times = 0, nil }()
	for _, s := range stressSets() {
		w.slips, w.times = s.slips, nil
		if s.minutes {
			w.times = func(procedure string) float64 { return twoSided("time "+procedure, timeFactor) }
		}
		cases, err := w.stressed(s, o)
		if err != nil {
			return err
		}
		for k, p := range pols[:2] {
			if k == 1 && !s.against {
				break
			}
			res, err := w.play("set "+s.name, cases, p, o)
			if err != nil {
				return err
			}
			x := summarise(p.name, res, res)
			mean, _ := gapFloor(res)
			fmt.Fprintf(out, "| %s | %s | %.1f | %.1f | %.1f %% | %.2f | %.1f %% | %.1f | %.1f %% | %.3f, %.3f |\n", s.name, p.name, x.minutes, x.excess,
				100*x.first, x.wrong, 100*x.confident, x.readings, 100*x.gaveUp, gap(binned(res, func(s stated) bool { return s.right })), mean)
		}
	}
	return nil
}

// stressed draws the vehicles of a set.
func (w *world) stressed(s stressSet, o options) ([]*hiddenCase, error) {
	cases, err := w.casesOf(o.jobs, o.seed, s.draw)
	if err != nil || s.outside == 0 {
		return cases, err
	}
	var outside []int
	for i, f := range w.sys.Faults {
		if f.Outside {
			outside = append(outside, i)
		}
	}
	for i := range cases {
		rng := rand.New(rand.NewPCG(o.seed, hash("outside")+uint64(i)))
		if len(outside) > 0 && rng.Float64() < s.outside {
			v := truth.Figures(rng, w.model, []int{outside[rng.IntN(len(outside))]}, s.draw)
			c := w.newCase(v, cases[i].seed, rng)
			c.number = i
			cases[i] = c
		}
	}
	return cases, nil
}

// took is how long a test really takes where the program believes minutes.
func (w *world) took(procedure string, minutes float64) float64 {
	if w.times == nil {
		return minutes
	}
	return minutes * w.times(procedure)
}
