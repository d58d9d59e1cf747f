// Command tablegen makes the tables of package machine with its time-domain
// solver. It takes no arguments and is run by go generate ./machine, in the
// directory of package machine; it writes tables/*.tab.
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
		fmt.Fprintln(os.Stderr, "tablegen:", err)
		os.Exit(1)
	}
}

// run makes every table from the sources in dir.
func run(dir string) error {
	source, err := sourceHash(os.DirFS(dir))
	if err != nil {
		return err
	}
	for p := range machine.NumPatterns {
		if machine.TableFile(p) != p.String()+".tab" {
			continue // served by another pattern's table
		}
		t, err := table(p, source)
		if err != nil {
			return fmt.Errorf("%v: %w", p, err)
		}
		name := filepath.Join(dir, "tables", machine.TableFile(p))
		if err := os.WriteFile(name, t.Encode(), 0o644); err != nil {
			return err
		}
		fmt.Println(name)
	}
	return nil
}

// table solves every point of a pattern's grid.
func table(p machine.Pattern, source string) (*machine.Table, error) {
	g := machine.GridOf(p)
	size := g.NU * g.NY
	values := make([]float32, len(g.Knees)*len(g.Drops)*int(machine.NumOutputs)*size)
	plane := 0
	for _, knee := range g.Knees {
		for _, drop := range g.Drops {
			for iu := range g.NU {
				for iy := range g.NY {
					u, y := g.Point(iu, iy)
					out, err := machine.TablePoint(p, u, y, knee, drop, g.Steps)
					if err != nil {
						return nil, fmt.Errorf("u %g y %g knee %g drop %g: %w", u, y, knee, drop, err)
					}
					for o, v := range out {
						values[(plane*int(machine.NumOutputs)+o)*size+iu*g.NY+iy] = round7(v)
					}
				}
			}
			plane++
		}
	}
	return machine.NewTable(p, g, source, values)
}

// round7 keeps seven digits, and takes what symmetry makes zero for zero: an
// order below 1e-6 of the short-circuit current is the solver's residue.
func round7(v float64) float32 {
	if v < 1e-6 && v > -1e-6 {
		return 0
	}
	x, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 6, 64), 32)
	if err != nil {
		panic(err) // a formatted float64 of order 1 always parses
	}
	return float32(x)
}
