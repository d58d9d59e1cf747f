// Command delta makes the table of an open delta winding of package machine with
// its time-domain solver. It takes no arguments and is run by go generate
// ./machine, in the directory of package machine.
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

// sources are the files that decide the table's numbers, relative to the
// directory of package machine.
var sources = []string{
	"bridge.go", "build.go", "changes.go", "chord.go", "delta_table.go", "diode.go", "grid.go", "mesh.go", "part_grid.go",
	"pattern.go", "periodic.go", "run.go", "run_stage.go", "tablegen/delta/main.go",
}

// sourceHash returns a hash of the sources' tokens.
func sourceHash(fsys fs.FS) (string, error) { return source.Hash(fsys, sources) }

func main() {
	if err := run("."); err != nil {
		fmt.Fprintln(os.Stderr, "delta:", err)
		os.Exit(1)
	}
}

// run makes the table from the sources in dir.
func run(dir string) error {
	hash, err := sourceHash(os.DirFS(dir))
	if err != nil {
		return err
	}
	g := machine.DeltaGrid()
	size := g.NU * g.NY
	values := make([]float32, len(g.Knees)*int(machine.NumOutputs)*size)
	for plane, knee := range g.Knees {
		for iu := range g.NU {
			for iy := range g.NY {
				u, y := g.Point(iu, iy)
				out, err := machine.DeltaPoint(u, y, knee, g.Drops[0], g.Steps)
				if err != nil {
					return fmt.Errorf("u %g y %g knee %g: %w", u, y, knee, err)
				}
				for o, v := range out {
					values[(plane*int(machine.NumOutputs)+o)*size+iu*g.NY+iy] = round7(v)
				}
			}
		}
	}
	t, err := machine.NewTable(machine.DeltaWindingOpen, g, hash, values)
	if err != nil {
		return err
	}
	name := filepath.Join(dir, "tables", machine.DeltaWindingOpen.String()+".tab")
	fmt.Println(name)
	return os.WriteFile(name, t.Encode(), 0o644)
}

// round7 keeps seven digits, and takes for zero what is below 1e-6 of the
// short-circuit current.
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
