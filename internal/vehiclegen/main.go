// Command vehiclegen makes the fixtures of package truth anew with ngspice:
//
//	go run ./internal/vehiclegen pairs            truth/testdata/pairs.json, a minute
//	go run ./internal/vehiclegen pairs -system ID truth/testdata/pairs-ID.json, for another arrangement
//	go run ./internal/vehiclegen stress           truth/testdata/stress.json, half an hour
//	go run ./internal/vehiclegen check -sample 20 runs a sample of all again and compares
//
// It is run from the top of the tree. pairs has our model's physics, for holding
// prediction against an independent simulator; stress has other physics, as
// hidden vehicles for the benchmark. Runs that are there and still fresh are not
// made again. It ends with a problem when a run ended without an answer, and
// prints those that had not quite settled.
package main

import (
	"flag"
	"fmt"
	"os"
	"os/exec"

	"chargewright/internal/ngspice"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
	"chargewright/truth"
)

// Where the fixtures lie, from the top of the tree.
const (
	folder     = "truth/testdata/"
	stressFile = folder + "stress.json"
)

// first is the system of the stress set.
const first = "isolated-earth-side"

// pairsFile is where a system's pairs lie.
func pairsFile(system string) string {
	if system == first {
		return folder + "pairs.json"
	}
	return folder + "pairs-" + system + ".json"
}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "vehiclegen:", err)
		os.Exit(1)
	}
}

// world is what every vehicle is made in.
type world struct {
	model      *prediction.Model
	practice   *system.Practice
	procedures question.Catalogue
	program    string // path of ngspice
	version    string
	jobs       int
}

func run(args []string) error {
	if len(args) == 0 {
		return fmt.Errorf("say pairs, stress or check")
	}
	flags := flag.NewFlagSet("vehiclegen "+args[0], flag.ContinueOnError)
	vehicles := flags.Int("n", 40, "stress: how many vehicles")
	seed := flags.Uint64("seed", 1, "stress: seed of the vehicles; check: seed of the sample")
	sample := flags.Int("sample", 12, "check: runs of each fixture that are made again")
	jobs := flags.Int("jobs", 1, "simulators at work at a time")
	id := flags.String("system", first, "pairs: the system")
	if err := flags.Parse(args[1:]); err != nil {
		return err
	}
	if args[0] != "pairs" && *id != first {
		return fmt.Errorf("-system is for pairs: the stress set is of %s alone", first)
	}
	w, err := newWorld(*id, *jobs)
	if err != nil {
		return err
	}
	switch args[0] {
	case "pairs":
		return w.write(pairsFile(*id), w.pairs)
	case "stress":
		return w.write(stressFile, func() (*fixture, []task, error) { return w.stress(*vehicles, *seed) })
	case "check":
		return w.check(*sample, *seed)
	}
	return fmt.Errorf("no work called %s: say pairs, stress or check", args[0])
}

func newWorld(id string, jobs int) (*world, error) {
	w := &world{jobs: max(1, jobs)}
	var err error
	if w.program, err = exec.LookPath("ngspice"); err != nil {
		return nil, fmt.Errorf("ngspice is not on the PATH: scripts/need.sh installs it")
	}
	if w.version, err = ngspice.Version(w.program); err != nil {
		return nil, err
	}
	sys, err := system.ByID(id)
	if err != nil {
		return nil, err
	}
	if w.model, err = prediction.Compile(sys); err != nil {
		return nil, err
	}
	if w.practice, err = system.PracticeFor(id); err != nil {
		return nil, err
	}
	w.procedures, err = question.Library()
	return w, err
}

// simulate runs one netlist.
func (w *world) simulate(netlist string) ([]byte, error) { return ngspice.Raw(w.program, netlist) }

// write makes a fixture and keeps it on disk while it grows. What is there
// already and is still fresh is not made again.
func (w *world) write(name string, plan func() (*fixture, []task, error)) error {
	f, tasks, err := plan()
	if err != nil {
		return err
	}
	var old *fixture
	if text, err := os.ReadFile(name); err == nil {
		if old, err = truth.ParseFixture(text); err != nil {
			fmt.Fprintf(os.Stderr, "%s cannot be read and is made from nothing: %v\n", name, err)
		}
	}
	if old != nil && old.Program != f.Program {
		old = nil // another simulator's runs are no good beside this one's
	}
	size := 0
	save := func(f *fixture) error {
		text, err := f.Encode()
		if err != nil {
			return err
		}
		size = len(text)
		return os.WriteFile(name, text, 0o644)
	}
	if err := w.simulateAll(f, old, tasks, save); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	fmt.Printf("%s: %d vehicles, %d bytes\n", name, len(f.Vehicles), size)
	return nil
}
