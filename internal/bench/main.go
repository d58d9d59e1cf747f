// Command bench measures the engine and prints the tables of docs/results.md.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime/pprof"
	"strings"
	"time"
)

func main() {
	only := flag.String("only", "", "one part: solver")
	n := flag.Int("n", 100000, "operating points of the solver table")
	prof := flag.String("cpuprofile", "", "write a CPU profile")
	jobs := flag.Int("jobs", 200, "hidden vehicles")
	seed := flag.Uint64("seed", 1001, "seed of the hidden vehicles: 1001 reports, 1 to 9 tune")
	pol := flag.String("policy", "", "one policy by its first word")
	verbose := flag.Bool("v", false, "list the cases that went wrong")
	one := flag.Int("case", -1, "one hidden vehicle, every reading printed")
	flag.Parse()
	if *prof != "" {
		f, err := os.Create(*prof)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		_ = pprof.StartCPUProfile(f)
		defer pprof.StopCPUProfile()
	}
	w, err := newWorld("isolated-earth-side")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	if *only == "" || *only == "solver" {
		t := time.Now()
		r, err := solverRisk(w, *n, 1)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		r.print(os.Stdout)
		fmt.Printf("%.1f s\n", time.Since(t).Seconds())
	}
	if *only == "" || *only == "hidden" {
		if err := hidden(w, *jobs, *seed, *pol, *verbose, *one); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
}

// hidden runs the hidden-fault benchmark and prints it.
func hidden(w *world, jobs int, seed uint64, only string, verbose bool, one int) error {
	cases, err := w.cases(jobs, seed)
	if err != nil {
		return err
	}
	if one >= 0 {
		cases = cases[one : one+1]
		w.trace = os.Stdout
	}
	pols, err := w.policies(0.9, 0.9)
	if err != nil {
		return err
	}
	var all []summary
	var base []outcome
	for _, p := range pols {
		if only != "" && !strings.HasPrefix(p.name, only) {
			continue
		}
		t := time.Now()
		o, err := w.play(cases, p)
		if err != nil {
			return err
		}
		if base == nil {
			base = o
		}
		all = append(all, summarise(p.name, o, base))
		fmt.Fprintf(os.Stderr, "%s: %.0f s\n", p.name, time.Since(t).Seconds())
		if verbose {
			for i, x := range o {
				if !x.first || x.confident {
					fmt.Printf("case %d %s dormant=%v needs %v: first=%v confident-wrong=%v wrong parts=%d minutes %.0f readings %d share %.3f\n", i, cases[i].vehicle.Name, cases[i].dormant, cases[i].repairs, x.first, x.confident, x.wrongParts, x.minutes, x.readings, x.stopShare)
				}
			}
		}
	}
	printSummary(os.Stdout, all)
	calibration(os.Stdout, base)
	return nil
}
