// Command examplegen makes the job files of examples/ anew:
//
//	go run ./internal/examplegen             readings from the stored runs, seconds
//	go run ./internal/examplegen -simulate   the runs anew with ngspice, minutes
//	go run ./internal/examplegen -system ID  one arrangement alone
//
// It is run from the top of the tree. Each story is a hidden vehicle that an
// independent circuit simulator solves in the time domain, with other physics
// than our model's; its answers go through named meters with their noise and
// are written as a technician would have written them down. The runs lie in
// examples/source, one file for each system, so that the job files can be checked
// without a simulator. A test says when either is stale.
package main

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"

	"chargewright/internal/ngspice"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
	"chargewright/truth"
)

// examples is where things lie, from the top of the tree.
const examples = "examples"

// runsFile is where the runs of a system's stories lie.
func runsFile(system string) string {
	if system == first {
		return examples + "/source/vehicles.json"
	}
	return examples + "/source/" + system + ".json"
}

func main() {
	simulate := flag.Bool("simulate", false, "run every setup anew with ngspice")
	only := flag.String("system", "", "one system's stories alone")
	flag.Parse()
	if err := run(*simulate, *only); err != nil {
		fmt.Fprintln(os.Stderr, "examplegen:", err)
		os.Exit(1)
	}
}

func run(simulate bool, only string) error {
	if only != "" && !slices.Contains(systems(), only) {
		return fmt.Errorf("no story is told of %s", only)
	}
	for _, id := range systems() {
		if only != "" && id != only {
			continue
		}
		if err := runSystem(id, simulate); err != nil {
			return fmt.Errorf("%s: %w", id, err)
		}
	}
	return nil
}

func runSystem(id string, simulate bool) error {
	w, err := newWorld(id)
	if err != nil {
		return err
	}
	name, stories := runsFile(id), storiesOf(id)
	if simulate {
		f, err := w.simulate()
		if err != nil {
			return err
		}
		text, err := f.Encode()
		if err != nil {
			return err
		}
		if err := os.WriteFile(name, text, 0o644); err != nil {
			return err
		}
		fmt.Printf("%s: %d vehicles, %d bytes\n", name, len(f.Vehicles), len(text))
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	for k, s := range stories {
		text, err := w.render(data, k, s, s.Seed)
		if err != nil {
			return fmt.Errorf("%s: %w", s.File, err)
		}
		if err := os.WriteFile(filepath.Join(examples, s.File+".yaml"), []byte(text), 0o644); err != nil {
			return err
		}
	}
	return nil
}

// world is what every story is made in.
type world struct {
	model      *prediction.Model
	procedures question.Catalogue
}

func newWorld(id string) (*world, error) {
	sys, err := system.ByID(id)
	if err != nil {
		return nil, err
	}
	w := &world{}
	if w.model, err = prediction.Compile(sys); err != nil {
		return nil, err
	}
	w.procedures, err = question.Library()
	return w, err
}

// simulate makes the runs of all stories.
func (w *world) simulate() (*truth.Fixture, error) {
	program, err := exec.LookPath("ngspice")
	if err != nil {
		return nil, fmt.Errorf("ngspice is not on the PATH: scripts/need.sh installs it")
	}
	version, err := ngspice.Version(program)
	if err != nil {
		return nil, err
	}
	f := truth.NewFixture(w.model, "the vehicles of examples/, with other physics than our model's; made by internal/examplegen", version, truth.Other(), 0)
	for _, s := range storiesOf(w.model.Sys.ID) {
		rec, err := w.vehicle(s)
		if err != nil {
			return nil, err
		}
		if err := w.runs(&rec, s, f.Options, func(netlist string) ([]byte, error) { return ngspice.Raw(program, netlist) }); err != nil {
			return nil, fmt.Errorf("%s: %w", s.File, err)
		}
		f.Vehicles = append(f.Vehicles, rec)
	}
	return f, nil
}
