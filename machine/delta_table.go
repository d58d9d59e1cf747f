package machine

import (
	"fmt"
	"math"
	"sync"
)

// shippedDelta returns the table of DeltaWindingOpen, read once.
var shippedDelta = sync.OnceValues(func() (*Table, error) {
	name := "tables/" + DeltaWindingOpen.String() + ".tab"
	data, err := tableFiles.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("machine: no table for %v: run go generate ./machine: %w", DeltaWindingOpen, err)
	}
	t, err := ParseTable(data)
	if err != nil {
		return nil, fmt.Errorf("machine: %s: %w", name, err)
	}
	return t, nil
})

// ShippedDelta returns the table of DeltaWindingOpen.
func ShippedDelta() (*Table, error) { return shippedDelta() }

// DeltaGrid is that of the table of DeltaWindingOpen.
func DeltaGrid() Grid { return GridOf(PhaseOpen) }

// deltaOf turns a star into the delta that looks the same from outside.
func deltaOf(b Build) Build {
	b.Winding = Delta
	b.EMF, b.Ohms, b.Henries = math.Sqrt(3)*b.EMF, 3*b.Ohms, 3*b.Henries
	return b
}

// DeltaPoint solves one point of the table of DeltaWindingOpen: the outputs times
// w L / E, with E, L and y those of the star that the sound delta looks like.
func DeltaPoint(u, y, knee, drop float64, steps int) (out [NumOutputs]float64, err error) {
	c := tablePoint(u, y, knee, drop, steps)
	c.Diode.Emission = u * drop / dropPerSlope / thermalVolts
	b := deltaOf(Build{EMF: c.EMF, Omega: c.Omega, Henries: c.Henries, Ohms: c.Ohms, Volts: c.Volts, Diode: c.Diode, Steps: steps})
	b.Changes.WindingOpen[0] = true
	p, err := Run(b)
	if err != nil {
		return out, err
	}
	out[Mean], out[PeakToPeak], out[ACRms] = p.Stud.Mean, p.Stud.PeakToPeak, p.Stud.ACRms
	for k := range orders {
		out[int(Order1)+k] = p.Stud.Orders[k]
	}
	// Two windings in series and one lead between: half a period repeats.
	out[Order1], out[Order3] = 0, 0
	return out, nil
}
