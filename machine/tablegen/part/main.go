// Command part makes the tables of growing faults of package machine with its
// time-domain solver. It takes no arguments and is run by go generate ./machine,
// in the directory of package machine; it writes tables/part-*.tab.
package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"

	"chargewright/machine"
	"chargewright/machine/tablegen/source"
)

// sources are the files that decide a table's numbers, relative to the
// directory of package machine.
var sources = []string{"bridge.go", "diode.go", "grid.go", "part_grid.go", "pattern.go", "shoot.go", "steady.go", "tablegen/part/main.go"}

// sourceHash returns a hash of the sources' tokens.
func sourceHash(fsys fs.FS) (string, error) { return source.Hash(fsys, sources) }

func main() {
	if err := run("."); err != nil {
		fmt.Fprintln(os.Stderr, "part:", err)
		os.Exit(1)
	}
}

// run makes every table from the sources in dir.
func run(dir string) error {
	hash, err := sourceHash(os.DirFS(dir))
	if err != nil {
		return err
	}
	for _, p := range machine.PartPatterns {
		t, err := table(p, hash)
		if err != nil {
			return fmt.Errorf("%v: %w", p, err)
		}
		name := filepath.Join(dir, "tables", machine.PartFile(p))
		if err := os.WriteFile(name, t.Encode(), 0o644); err != nil {
			return err
		}
		fmt.Println(name)
	}
	return nil
}

// table solves every point of a pattern's grid.
func table(p machine.Pattern, hash string) (*machine.PartTable, error) {
	g := &machine.PartGrid
	size, between := g.NU*g.NY, machine.PartSteps(p)-2
	values := make([]float32, int(machine.NumOutputs)*between*size)
	for iu := range g.NU {
		for iy := range g.NY {
			u, y := g.Point(iu, iy)
			steps, err := machine.PartPoint(p, u, y)
			if err != nil {
				return nil, fmt.Errorf("u %g y %g: %w", u, y, err)
			}
			for k, out := range steps {
				for o, v := range out {
					values[(o*between+k)*size+iu*g.NY+iy] = round6(v)
				}
			}
		}
	}
	return machine.NewPartTable(p, hash, values)
}

// round6 keeps six digits; the periodic solution is sought to 1e-5 of the
// short-circuit current, so less than a tenth of that is nothing.
func round6(v float64) float32 {
	if v < 1e-6 && v > -1e-6 {
		return 0
	}
	x, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 5, 64), 32)
	if err != nil {
		panic(err) // a formatted float64 of order 1 always parses
	}
	return float32(x)
}
