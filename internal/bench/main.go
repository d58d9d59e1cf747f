// Command bench measures the engine and prints the tables of docs/results.md.
// Every part can be run alone; all together take under half an hour on two
// quiet cores.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"runtime"
	"runtime/pprof"
	"slices"
	"strings"
	"syscall"
	"time"

	"chargewright/system"
)

// options are what the command line sets.
type options struct {
	only     string
	system   string
	points   int
	jobs     int
	seed     uint64
	policy   string
	rollouts int
	verbose  bool
	one      int
	out      string
	record   string
	anew     string
	full     bool
	stops    [2]float64
}

func main() {
	var o options
	flag.StringVar(&o.only, "only", "", "parts, separated by commas: solver, dc, speed, again, hidden, stress, sets, outside, pairs, content, growth")
	flag.StringVar(&o.anew, "anew", "", "again writes what comes out now to this file")
	flag.StringVar(&o.record, "record", "", "speed writes its updates to this file, again makes them anew and compares")
	flag.StringVar(&o.system, "system", "isolated-earth-side", "the arrangement; stress is of the first alone")
	flag.IntVar(&o.points, "n", 100000, "operating points of the solver table")
	flag.IntVar(&o.jobs, "jobs", 200, "hidden vehicles")
	flag.Uint64Var(&o.seed, "seed", 1001, "seed of the hidden vehicles: 1001 reports, 1 to 9 tune")
	flag.StringVar(&o.policy, "policy", "", "policies by their first words, separated by commas")
	flag.IntVar(&o.rollouts, "rollouts", 0, "also the planner with so many rollouts of each of its best steps")
	flag.BoolVar(&o.verbose, "v", false, "list the cases that went wrong")
	flag.IntVar(&o.one, "case", -1, "one hidden vehicle, every reading printed")
	flag.StringVar(&o.out, "out", "", "also write the report to this folder, as Markdown and JSON, and go on with what it holds of a run that was cut short")
	flag.BoolVar(&o.full, "full", false, "2,000 hidden vehicles of the first arrangement and 200 of each other, and the stress set (hours; with -out it can be cut short)")
	flag.Float64Var(&o.stops[0], "stop-fixed", 0.8, "share at which the fixed order stops (0.7, 0.8, 0.9 tried on seed 3)")
	flag.Float64Var(&o.stops[1], "stop-clamp", 0.8, "share at which the technician with a clamp stops (the same)")
	prof := flag.String("cpuprofile", "", "write a CPU profile")
	flag.Parse()
	if *prof != "" {
		f, err := os.Create(*prof)
		if err != nil {
			fail(err)
		}
		_ = pprof.StartCPUProfile(f)
		defer pprof.StopCPUProfile()
	}
	if err := run(o); err != nil {
		fail(err)
	}
}

func fail(err error) {
	fmt.Fprintln(os.Stderr, "bench:", err)
	os.Exit(1)
}

// run measures the parts asked for, or all hidden vehicles.
func run(o options) (err error) {
	var out io.Writer = os.Stdout
	if o.out != "" {
		f, err2 := newFolder(o.out, time.Now())
		if err2 != nil {
			return err2
		}
		defer func() { err = errors.Join(err, f.close()) }()
		out = io.MultiWriter(os.Stdout, f)
	}
	if o.full {
		return runFull(out, o)
	}
	return runSystem(out, o)
}

// Vehicles of a full run.
const (
	fullFirst = 2000
	fullOther = 200
)

// runFull plays the hidden vehicles of every arrangement that is shipped.
func runFull(out io.Writer, o options) error {
	first := o.system
	others := slices.DeleteFunc(system.Library(), func(id string) bool { return id == first })
	for _, s := range append([]string{first}, others...) {
		o.system, o.only, o.jobs = s, "hidden", fullOther
		if s == first {
			o.only, o.jobs = "hidden,stress", fullFirst
			if err := runSystem(out, with(o, "sets", fullOther)); err != nil {
				return err
			}
		}
		if err := runSystem(out, o); err != nil {
			return err
		}
	}
	return nil
}

// with is the same for other parts and so many vehicles.
func with(o options, parts string, jobs int) options {
	o.only, o.jobs = parts, jobs
	return o
}

// runSystem measures the parts asked for on one arrangement.
func runSystem(out io.Writer, o options) error {
	w, err := newWorld(o.system)
	if err != nil {
		return err
	}
	if o.out != "" {
		if w.kept, err = keep(o.out, o.system); err != nil {
			return err
		}
		defer func() { _ = w.kept.close() }()
	}
	machineLine(out, w)
	parts := []struct {
		name string
		do   func(io.Writer) error
	}{
		{"solver", func(out io.Writer) error { return w.solverPart(out, o) }},
		{"dc", w.dc},
		{"speed", func(out io.Writer) error { return w.speed(out, o.record) }},
		{"again", func(out io.Writer) error { return w.again(out, o.record, o.anew) }},
		{"hidden", func(out io.Writer) error { return w.hidden(out, o) }},
		{"stress", func(out io.Writer) error { return w.stress(out, o) }},
		{"sets", func(out io.Writer) error { return w.sets(out, o) }},
		{"outside", func(out io.Writer) error { return w.outsideFaults(out, 5) }},
		{"pairs", func(out io.Writer) error { return w.doubleFaults(out, 20) }},
		{"content", w.content},
		{"growth", w.growth},
	}
	for _, p := range parts {
		if o.only == "" && (p.name == "sets" || p.name == "again") {
			continue // a quarter of an hour, of a full run; for who changes the engine
		}
		if o.only != "" && !strings.Contains(","+o.only+",", ","+p.name+",") {
			continue
		}
		t, c := time.Now(), cpu()
		fmt.Fprintf(out, "\n## %s\n\n", p.name)
		if err := p.do(out); err != nil {
			return fmt.Errorf("%s: %w", p.name, err)
		}
		fmt.Fprintf(os.Stderr, "%s: %.0f s wall, %.0f s CPU\n", p.name, time.Since(t).Seconds(), (cpu() - c).Seconds())
	}
	return nil
}

// cpu is the processor time of this process so far.
func cpu() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// machineLine says on what and with what it was measured.
func machineLine(out io.Writer, w *world) {
	model := "unknown processor"
	if data, err := os.ReadFile("/proc/cpuinfo"); err == nil {
		for line := range strings.Lines(string(data)) {
			if name, ok := strings.CutPrefix(line, "model name"); ok {
				model = strings.TrimSpace(strings.TrimLeft(name, "\t :"))
				break
			}
		}
	}
	load, _ := os.ReadFile("/proc/loadavg")
	fmt.Fprintf(out, "%s, %d cores, load before %s, %s; system %s, practice file %x\n",
		model, runtime.NumCPU(), firstWord(string(load)), runtime.Version(), w.sys.ID, w.prac.SHA256[:8])
}

func firstWord(s string) string {
	if f := strings.Fields(s); len(f) > 0 {
		return f[0]
	}
	return "unknown"
}

func (w *world) solverPart(out io.Writer, o options) error {
	r, err := solverRisk(w, o.points, 1)
	if err != nil {
		return err
	}
	r.print(out)
	return nil
}

// hidden runs the hidden-fault benchmark.
func (w *world) hidden(out io.Writer, o options) error {
	cases, err := w.cases(o.jobs, o.seed)
	if err != nil {
		return err
	}
	if o.one >= 0 {
		cases = cases[o.one : o.one+1]
		w.trace = os.Stdout
	}
	fmt.Fprintf(out, "%d vehicles, seed %d; one run, one setting: %+v; fixed order stops at %g, clamp order at %g.\n\n",
		len(cases), o.seed, w.board.Settings, o.stops[0], o.stops[1])
	return w.compare(out, "hidden", cases, o)
}

// stress runs the vehicles of the other physics.
func (w *world) stress(out io.Writer, o options) error {
	cases, err := w.stressCases("truth/testdata/stress.json")
	if err != nil {
		return err
	}
	if o.one >= 0 {
		cases = cases[o.one : o.one+1]
		w.trace = os.Stdout
	}
	fmt.Fprintf(out, "%d vehicles of the other physics (stored ngspice runs, docs/models/truth.md), spreads x 1.5, read through meters with 2 %% wrong values.\n\n", len(cases))
	o.policy = "planner"
	return w.compare(out, "stress", cases, o)
}

// compare plays cases with every policy and prints the tables.
func (w *world) compare(out io.Writer, part string, cases []*hiddenCase, o options) error {
	pols, err := w.policies(o.stops[0], o.stops[1], o.rollouts)
	if err != nil {
		return err
	}
	var all []summary
	var base []outcome
	for _, p := range pols {
		if o.policy != "" && !slices.ContainsFunc(strings.Split(o.policy, ","), func(a string) bool { return strings.HasPrefix(p.name, a) }) {
			continue
		}
		t := time.Now()
		res, err := w.play(part, cases, p, o)
		if err != nil {
			return err
		}
		if base == nil {
			base = res
		}
		all = append(all, summarise(p.name, res, base))
		fmt.Fprintf(os.Stderr, "%s: %.0f s\n", p.name, time.Since(t).Seconds())
		// Each row as it comes: a long run that is cut short leaves something.
		printSummary(os.Stderr, all)
		if o.verbose {
			listWrong(out, cases, res)
		}
	}
	printSummary(out, all)
	halves(out, cases, base)
	calibration(out, base)
	byClass(out, cases, all)
	return nil
}

// listWrong prints the cases whose first repair or verdict was not right.
func listWrong(out io.Writer, cases []*hiddenCase, res []outcome) {
	for i, x := range res {
		if x.first && !x.confident {
			continue
		}
		fmt.Fprintf(out, "case %d %s dormant=%v needs %v: first=%v confident-wrong=%v wrong parts=%d minutes %.0f readings %d share %.3f\n",
			i, cases[i].vehicle.Name, cases[i].dormant, cases[i].repairs, x.first, x.confident, x.wrongParts, x.minutes, x.readings, x.stopShare)
	}
}
