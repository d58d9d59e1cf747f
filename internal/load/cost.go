package main

import (
	"context"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"syscall"
	"time"
)

// cost counts what readings cost the server, whatever else the machine does: they
// are entered one after the other, and the server's processor time is read between
// requests.
type cost struct {
	last  time.Duration
	spent map[string]time.Duration // by what was asked for
	asked map[string]int
}

// add puts what the server used since the last time down to something. What it
// does after an answer is on the next request's bill: only the sum is exact.
func (c *cost) add(what string, now time.Duration) {
	c.spent[what] += now - c.last
	c.asked[what]++
	c.last = now
}

// oneByOne enters readings on one job a system, in turns.
func (w *workshop) oneByOne(ctx context.Context) error {
	w.cost = &cost{last: cpuOf(w.p.cmd.Process.Pid), spent: map[string]time.Duration{}, asked: map[string]int{}}
	if err := w.p.profiled(w.options, syscall.SIGUSR1); err != nil {
		return err
	}
	w.before = w.use()
	fmt.Fprintln(os.Stderr, "the first jobs are open: counting")
	for n := range w.steps {
		w.all[n%len(w.all)].reading(ctx, time.Now())
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	if err := w.p.quiet(ctx); err != nil { // what it began and nobody waited for counts as well
		return err
	}
	w.cost.add("after the last", cpuOf(w.p.cmd.Process.Pid))
	w.after = w.use()
	if err := w.p.profiled(w.options, syscall.SIGUSR2); err != nil {
		return err
	}
	for _, t := range w.all {
		t.end()
	}
	n := float64(w.steps)
	fmt.Printf("%s; %d readings one after the other on %d jobs, seed %d; systems %s\n\n", w.p.kind, w.steps, len(w.all), w.seed, strings.Join(w.ids(), ", "))
	fmt.Println("| processor time of the server | n | ms each |\n|---|---|---|")
	sum := time.Duration(0)
	for _, what := range slices.Sorted(maps.Keys(w.cost.spent)) {
		sum += w.cost.spent[what]
		fmt.Printf("| %s | %d | %.0f |\n", what, w.cost.asked[what], 1e3*w.cost.spent[what].Seconds()/float64(w.cost.asked[what]))
	}
	fmt.Printf("\na reading with its pages: %.0f ms of processor time", 1e3*sum.Seconds()/n)
	if w.p.pg != nil {
		fmt.Printf(", PostgreSQL's %.0f", 1e3*(w.after.base-w.before.base).Seconds()/n)
	}
	fmt.Printf("; %s at most; load average %s before, %s after\n", peak(w.p.cmd.Process.Pid), w.before.load, w.after.load)
	for _, why := range slices.Sorted(maps.Keys(w.wrong)) {
		fmt.Printf("went wrong %d times: %s\n", w.wrong[why], why)
	}
	return w.holds(ctx)
}
