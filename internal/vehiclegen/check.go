package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"

	"chargewright/question"
	"chargewright/truth"
)

// chance is the generator of one purpose.
func chance(seed, purpose uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, purpose)) }

// check makes a sample of the stored runs again and compares: another version of
// the simulator, or another machine, gives the same within what the time steps
// leave open.
func (w *world) check(sample int, seed uint64) error {
	if err := w.checkFile(stressFile, sample, seed); err != nil {
		return err
	}
	for id := range pairLists {
		own, err := newWorld(id, w.jobs)
		if err != nil {
			return err
		}
		if err := own.checkFile(pairsFile(id), sample, seed); err != nil {
			return err
		}
	}
	return nil
}

func (w *world) checkFile(name string, sample int, seed uint64) error {
	text, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	f, err := truth.ParseFixture(text)
	if err != nil {
		return err
	}
	return w.checkOne(name, f, sample, chance(seed, 0))
}

// Two runs of one netlist on two machines take other time steps: the means then
// differ by some 1e-4, the settling by what Settled allows.
const (
	sameVolts = 5e-3 // [V]
	sameAmps  = 0.03 // [A]
	sameShare = 3e-3
)

func (w *world) checkOne(name string, f *fixture, sample int, rng *rand.Rand) error {
	setups, err := truth.Setups(w.model, w.procedures)
	if err != nil {
		return err
	}
	find := func(words string) (question.Setup, bool) {
		for _, s := range setups {
			if s.Standing == words {
				return s.Setup, true
			}
		}
		return question.Setup{}, false
	}
	stale, err := f.Stale(w.model, find)
	if err != nil {
		return err
	}
	fmt.Printf("%s: made by %s, now %s; %d runs are stale\n", name, f.Program, w.version, len(stale))
	for _, s := range stale {
		fmt.Println("  stale:", s)
	}
	worst, off := 0.0, 0
	for range sample {
		k := rng.IntN(len(f.Vehicles))
		rec := &f.Vehicles[k]
		stored := rec.Runs[rng.IntN(len(rec.Runs))]
		set, ok := find(stored.Standing)
		if !ok {
			continue
		}
		o := f.Options
		o.Resting = stored.Start != ""
		r := w.one(f, task{k, set, o})
		if r.err != nil {
			return r.err
		}
		x := apart(&stored, r.run)
		worst = math.Max(worst, x)
		if x > 1 {
			off++
			fmt.Printf("  %s, %s: apart by %.2f times what is allowed\n", rec.Name, stored.Standing, x)
		}
	}
	fmt.Printf("  %d runs made again, worst %.2f of what is allowed\n", sample, worst)
	if off > 0 || len(stale) > 0 {
		return fmt.Errorf("%s: make it anew", name)
	}
	return nil
}

// apart is the largest difference over what is allowed.
func apart(s *truth.StoredRun, r *truth.Run) float64 {
	worst := 0.0
	for i := range s.Volts {
		worst = math.Max(worst, math.Abs(s.Volts[i]-r.Volts[i])/(sameVolts+sameShare*math.Abs(r.Volts[i])))
	}
	for i := range s.Amps {
		worst = math.Max(worst, math.Abs(s.Amps[i]-r.Amps[i])/(sameAmps+sameShare*math.Abs(r.Amps[i])))
	}
	return worst
}
