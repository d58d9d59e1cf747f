package main

import (
	"fmt"
	"math/rand/v2"

	"chargewright/truth"
)

// Spreads of the stress set are half as wide again as the program believes.
const stressSpread = 1.5

// stress draws n vehicles from the rates and solves each with other physics in
// every setup that the catalogue asks for.
func (w *world) stress(n int, seed uint64) (*fixture, []task, error) {
	f := truth.NewFixture(w.model, "hidden vehicles drawn from the rates, spreads x 1.5, other physics than the model's; made by internal/vehiclegen", w.version, truth.Other(), seed)
	setups, err := truth.Setups(w.model, w.procedures)
	if err != nil {
		return nil, nil, err
	}
	var tasks []task
	for k := range n {
		// Each vehicle has its own chance, so that more of them leave the
		// first ones as they are.
		rng := rand.New(rand.NewPCG(seed, uint64(k)))
		v, err := truth.Draw(rng, w.model, w.practice, truth.DrawOptions{Spread: stressSpread})
		if err != nil {
			return nil, nil, err
		}
		v.Name = fmt.Sprintf("%02d %s", k+1, v.Name)
		f.Vehicles = append(f.Vehicles, truth.Record(w.model, v))
		for _, s := range setups {
			tasks = append(tasks, task{k, s.Setup, f.Options})
		}
	}
	return f, tasks, nil
}
