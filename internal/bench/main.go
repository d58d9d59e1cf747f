// Command bench measures the engine and prints the tables of docs/results.md.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime/pprof"
	"time"
)

func main() {
	only := flag.String("only", "", "one part: solver")
	n := flag.Int("n", 100000, "operating points of the solver table")
	prof := flag.String("cpuprofile", "", "write a CPU profile")
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
}
