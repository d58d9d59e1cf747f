package prediction_test

import (
	"fmt"
	"math"
	"testing"
)

// TestMismatchedVolts holds the table of docs/models/pairs.md on alternators of
// another voltage against the model: the nine-diode machine of either voltage on
// the lamp wiring of either. When they part, the table as it would be is printed.
func TestMismatchedVolts(t *testing.T) {
	var rows []string
	inside := alternators[len(alternators)-1]
	lead := map[string]string{"lamp": "dp-lead"}
	for _, h := range []harness{{lampOnly, "warning lamp, 12 V", lead}, {"lamp-excited-24", "warning lamp, 24 V", lead}} {
		for _, of := range []struct{ system, name string }{{lampOnly, "nine diodes, regulator inside, 12 V"}, {"lamp-excited-24", "nine diodes, regulator inside, 24 V"}} {
			a := inside
			a.of = of.system
			f := look(t, mixed(t, h, a, [2]string{"lamp", ""}))
			rows = append(rows, fmt.Sprintf("| %s | %s | %.1f A | %.1f V, %.0f A | %.1f V | %.2f A |",
				h.name, of.name, f.keyOn, f.volts, math.Round(f.amps)+0, f.quick, math.Max(f.standing, 0)))
		}
	}
	held(t, rows, 7, "| warning lamp, ")
}
