// Command dplus makes the tables of D+ of package machine with its time-domain
// solver. It takes no arguments and is run by go generate ./machine, in the
// directory of package machine; it writes tables/dplus-*.tab.
package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"chargewright/machine"
)

func main() {
	if err := run("."); err != nil {
		fmt.Fprintln(os.Stderr, "dplus:", err)
		os.Exit(1)
	}
}

// run makes every table from the sources in dir.
func run(dir string) error {
	source, err := sourceHash(os.DirFS(dir))
	if err != nil {
		return err
	}
	for p := range machine.NumNinePatterns {
		t, err := table(p, source)
		if err != nil {
			return fmt.Errorf("%v: %w", p, err)
		}
		name := filepath.Join(dir, "tables", machine.DPlusFile(p))
		if err := os.WriteFile(name, t.Encode(), 0o644); err != nil {
			return err
		}
		fmt.Println(name)
	}
	return nil
}

// table solves every point of a pattern's grid.
func table(p machine.NinePattern, source string) (*machine.DPlusTable, error) {
	g := machine.DPlusGrid
	size := g.NU * g.NY
	values := make([]float32, int(machine.NumDPlusOutputs)*size)
	for iu := range g.NU {
		for iy := range g.NY {
			u, y := g.Point(iu, iy)
			out, err := machine.DPlusPoint(p, u, y, g.Steps)
			if err != nil {
				return nil, fmt.Errorf("u %g y %g: %w", u, y, err)
			}
			for o, v := range out {
				values[o*size+iu*g.NY+iy] = round6(v)
			}
		}
	}
	return machine.NewDPlusTable(p, g, source, values)
}

// round6 keeps six digits: a slope is a difference over a twentieth, and the
// periodic solution is sought to 1e-5.
func round6(v float64) float32 {
	if v < 1e-5 && v > -1e-5 {
		return 0
	}
	x, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 5, 64), 32)
	if err != nil {
		panic(err) // a formatted float64 of order 1 always parses
	}
	return float32(x)
}
