package main

import (
	"fmt"
	"os"
	"slices"
	"sync"
	"time"

	"chargewright/question"
	"chargewright/truth"
)

type fixture = truth.Fixture

// task is one run to be made, of a vehicle of a fixture.
type task struct {
	vehicle int
	setup   question.Setup
	options truth.Options
}

// result is what became of it.
type result struct {
	netlist *truth.Netlist
	run     *truth.Run
	err     error
}

// simulateAll makes all runs, several at a time, and records them in the order
// of the tasks, so that the file does not hang on who finished first. Runs of
// old that are of the same netlist are taken over. save is called now and then.
func (w *world) simulateAll(f, old *fixture, tasks []task, save func(*fixture) error) error {
	const atATime = 42
	started, problems := time.Now(), 0
	for from := 0; from < len(tasks); from += atATime {
		part := tasks[from:min(from+atATime, len(tasks))]
		results := make([]result, len(part))
		next := make(chan int)
		var wait sync.WaitGroup
		for range w.jobs {
			wait.Go(func() {
				for i := range next {
					if results[i] = w.known(f, old, part[i]); results[i].run == nil {
						results[i] = w.one(f, part[i])
					}
				}
			})
		}
		for i := range part {
			next <- i
		}
		close(next)
		wait.Wait()
		problems += record(f, part, results)
		if err := save(f); err != nil {
			return err
		}
		done := from + len(part)
		fmt.Fprintf(os.Stderr, "%d of %d runs, %.1f s each\n", done, len(tasks), time.Since(started).Seconds()/float64(done))
	}
	if problems > 0 {
		return fmt.Errorf("%d of %d runs gave no answer", problems, len(tasks))
	}
	return nil
}

// known finds a run of the same netlist in the fixture as it was.
func (w *world) known(f, old *fixture, t task) (r result) {
	if old == nil || t.vehicle >= len(old.Vehicles) || !slices.Equal(old.Points, f.Points) || !slices.Equal(old.Elements, f.Elements) {
		return r
	}
	v, err := f.Vehicles[t.vehicle].Vehicle(w.model)
	if err != nil {
		return r
	}
	for i := range old.Vehicles[t.vehicle].Runs {
		s := &old.Vehicles[t.vehicle].Runs[i]
		n, err := v.Write(w.model, t.setup, t.options, s.Settle)
		if err != nil || n.Hash() != s.Netlist {
			continue
		}
		if run, err := s.Run(len(f.Points), len(f.Elements)); err == nil {
			return result{netlist: n, run: run}
		}
	}
	return r
}

// one makes one run.
func (w *world) one(f *fixture, t task) (r result) {
	v, err := f.Vehicles[t.vehicle].Vehicle(w.model)
	if err != nil {
		return result{err: err}
	}
	if r.run, r.err = v.Simulate(w.model, t.setup, t.options, w.simulate); r.err != nil {
		return r
	}
	r.netlist, r.err = v.Write(w.model, t.setup, t.options, r.run.Settle)
	return r
}

// record puts runs into the fixture and returns how many gave no answer.
func record(f *fixture, tasks []task, results []result) (problems int) {
	for i, r := range results {
		v := &f.Vehicles[tasks[i].vehicle]
		if r.err != nil {
			problems++
			fmt.Fprintln(os.Stderr, r.err)
			continue
		}
		if r.run.Drift > 1 {
			fmt.Fprintf(os.Stderr, "%s, %s: not quite settled after %g s: windows differ by %.1f times what is allowed\n", v.Name, r.run.Standing, r.run.Settle, r.run.Drift)
		}
		start := ""
		if tasks[i].options.Resting {
			start = "resting"
		}
		v.Put(r.netlist, r.run, start)
	}
	return problems
}
