package main

import (
	"fmt"
	"os"
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
// of the tasks, so that the file does not hang on who finished first.
func (w *world) simulateAll(f *fixture, tasks []task) error {
	results := make([]result, len(tasks))
	next := make(chan int)
	var wait sync.WaitGroup
	started, done := time.Now(), 0
	var mu sync.Mutex
	for range w.jobs {
		wait.Go(func() {
			for i := range next {
				results[i] = w.one(f, tasks[i])
				mu.Lock()
				done++
				if done%50 == 0 {
					fmt.Fprintf(os.Stderr, "%d of %d runs, %.1f s each\n", done, len(tasks), time.Since(started).Seconds()*float64(w.jobs)/float64(done))
				}
				mu.Unlock()
			}
		})
	}
	for i := range tasks {
		next <- i
	}
	close(next)
	wait.Wait()
	return record(f, tasks, results)
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

func record(f *fixture, tasks []task, results []result) error {
	problems := 0
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
	if problems > 0 {
		return fmt.Errorf("%d of %d runs gave no answer", problems, len(tasks))
	}
	return nil
}
