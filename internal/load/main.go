// Command load runs the real program as a server and puts a workshop on it: so
// many technicians at once, each on a job of their own, over HTTP as a browser
// sends it, and says how long an answer takes, what went wrong, and whether the
// journal holds each reading once. With -browser it measures in Chromium instead,
// over the made-up workshop. It refuses to judge on a machine that others use; there
// -steps counts the processor time of readings that come one after the other.
//
// Readings come when they are due, whether or not the answer to the one before has
// come (open loop), and count from when they were due.
//
// Open technician.go first.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"strings"
	"time"

	"chargewright/system"
)

// options are what the command line sets.
type options struct {
	technicians int
	every       time.Duration
	lasts       time.Duration
	readings    int // of a job, then the next one is opened
	database    string
	postgres    bool
	systems     string
	seed        uint64
	browser     int
	pause       time.Duration
	steps       int
	profile     string
	verbose     bool
}

func main() {
	var o options
	flag.IntVar(&o.technicians, "technicians", 100, "how many, each on a job of their own")
	flag.DurationVar(&o.every, "every", 20*time.Second, "a technician enters a reading so often")
	flag.DurationVar(&o.lasts, "for", 10*time.Minute, "how long it is measured")
	flag.IntVar(&o.readings, "readings", 10, "readings of a job before the next one is opened")
	flag.StringVar(&o.database, "database", "", "address of a PostgreSQL database that nobody uses; else a SQLite file")
	flag.BoolVar(&o.postgres, "postgres", false, "a PostgreSQL of its own, which ends with the run")
	flag.StringVar(&o.systems, "systems", "", "ids of systems, separated by commas; all that are shipped when nothing is said")
	flag.Uint64Var(&o.seed, "seed", 1, "of the hidden vehicles")
	flag.DurationVar(&o.pause, "pause", 0, "with -browser: between the look at what a reading would do and Enter")
	flag.IntVar(&o.browser, "browser", 0, "so many readings in Chromium over the made-up workshop, one after the other")
	flag.IntVar(&o.steps, "steps", 0, "so many readings one after the other, for the processor time of each; no latencies")
	flag.StringVar(&o.profile, "profile", "", "with -steps: where the server's processor time went is written to this file, and what it holds in the end to FILE.heap, for go tool pprof")
	flag.BoolVar(&o.verbose, "v", false, "say each thing that went wrong")
	flag.Parse()
	ctx, end := signal.NotifyContext(context.Background(), os.Interrupt)
	defer end()
	if err := run(ctx, o); err != nil {
		fmt.Fprintln(os.Stderr, "load:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, o options) error {
	fmt.Printf("%s, %d cores, %s, load average before %s\n\n", processor(), runtime.NumCPU(), runtime.Version(), loadAverage())
	if o.browser > 0 {
		return inBrowser(ctx, o)
	}
	if o.steps > 0 {
		o.technicians, o.every, o.lasts = len(o.ids()), time.Second, time.Second*time.Duration(o.steps/len(o.ids()))
	}
	runtime.GOMAXPROCS(1) // the server has the rest
	began := cpuOfSelf()
	cases, err := vehicles(o.ids(), o)
	if err != nil {
		return err
	}
	fmt.Fprintf(os.Stderr, "%d hidden vehicles, %.0f s of processor time\n", len(cases), (cpuOfSelf() - began).Seconds())
	p, err := begin(ctx, o)
	if err != nil {
		return err
	}
	defer p.end()
	w, err := newWorkshop(ctx, p, cases, o)
	if err != nil {
		return err
	}
	if o.steps > 0 {
		return w.oneByOne(ctx)
	}
	if err := w.run(ctx); err != nil {
		return err
	}
	return w.report(ctx)
}

// verdict says how a figure stands to its bar; on a machine that others use it
// does not.
func verdict(good bool, load float64) string {
	switch {
	case load > 2.5:
		return "no verdict: the machine was shared"
	case good:
		return "met"
	}
	return "NOT met"
}

func (o options) ids() []string {
	if o.systems != "" {
		return strings.Split(o.systems, ",")
	}
	return system.Library()
}
