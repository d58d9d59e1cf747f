package main

import (
	"io"
	"math"
	"math/rand/v2"

	"chargewright/diagnosis"
	"chargewright/meter"
	"chargewright/planning"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// world is everything the benchmark shares: the reference system compiled, its
// procedures and its frozen practice figures.
type world struct {
	sys   *system.System
	model *prediction.Model
	procs question.Catalogue
	prac  *system.Practice
	board *planning.Board
	prior diagnosis.Prior
	trace io.Writer // every reading of every case, nil = silent
	kept  *kept     // what was played before, nil = nothing

	slips float64                        // share of wrong values; 0 = as the program believes
	times func(procedure string) float64 // of what is believed; nil = once
}

func newWorld(id string) (*world, error) {
	sys, err := system.ByID(id)
	if err != nil {
		return nil, err
	}
	prac, err := system.PracticeFor(id)
	if err != nil {
		return nil, err
	}
	return worldOf(sys, prac)
}

// worldOf makes a world of a vehicle and the figures of a workshop.
func worldOf(sys *system.System, prac *system.Practice) (*world, error) {
	w := &world{sys: sys, prac: prac}
	var err error
	if w.model, err = prediction.Compile(w.sys); err != nil {
		return nil, err
	}
	if w.procs, err = question.Library(); err != nil {
		return nil, err
	}
	if w.board, err = planning.NewBoard(w.model, w.prac, w.procs, planning.DefaultSettings()); err != nil {
		return nil, err
	}
	w.prior = diagnosis.Prior{
		Model: w.model, Rates: map[string]float64{}, NoFault: w.prac.NoFault.Rate,
		Meters: map[string]meter.Instrument{}, Settings: diagnosis.DefaultSettings(), Look: w.board.LookOf,
	}
	for f, r := range w.prac.Rates {
		w.prior.Rates[f] = r.Rate
	}
	for _, in := range meter.Catalogue() {
		w.prior.Meters[in.ID] = in
	}
	w.prior.Remember()
	if err := w.board.Group(w.prior); err != nil {
		return nil, err
	}
	return w, nil
}

// draw fills z from the prior and returns a magnitude component for the faults.
func (w *world) draw(rng *rand.Rand, faults []int, z []float64) prediction.Component {
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	var c prediction.Component
	for k, f := range faults {
		if m := w.sys.Faults[f].Magnitude; m != nil {
			n := w.prior.Settings.Components
			c.Mean[k], c.SD[k] = prediction.MagnitudeComponent(m, rng.IntN(n), n)
		}
	}
	return c
}

// setups lists the distinct operating points that the catalogue's measuring
// procedures ask for, with the procedure that names each.
func (w *world) setups() (asked []*prediction.Asked, names []string, err error) {
	all, err := w.board.Ask(question.Setup{})
	if err != nil {
		return nil, nil, err
	}
	seen := map[string]bool{}
	for i, a := range all {
		if a == nil || a.Dead() || seen[a.Key] {
			continue
		}
		seen[a.Key] = true
		asked = append(asked, a)
		names = append(names, w.board.Procs[i].ID)
	}
	return asked, names, nil
}

func quantileOf(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	i := int(q * float64(len(v)-1))
	return v[i]
}
