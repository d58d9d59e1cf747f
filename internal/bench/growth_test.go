package main

import (
	"maps"
	"math"
	"slices"
	"testing"

	"chargewright/prediction"
	"chargewright/system"
)

// TestGrown: a lengthened vehicle has so many points and still compiles to one network;
// twins share the rate of the fault they copy, so that the prior stays what it was.
func TestGrown(t *testing.T) {
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	prac, err := system.PracticeFor(sys.ID)
	if err != nil {
		t.Fatal(err)
	}
	long := *sys
	long.Points, long.Elements = slices.Clone(sys.Points), slices.Clone(sys.Elements)
	lengthen(&long, 120)
	m, err := prediction.Compile(&long)
	if err != nil {
		t.Fatal(err)
	}
	if len(long.Points) != 120 || m.Unknowns() < 120 {
		t.Errorf("%d points, %d unknowns, want 120 and more", len(long.Points), m.Unknowns())
	}
	total := func(s *system.System, p *system.Practice) (n int, sum float64) {
		for _, f := range s.Faults {
			if !f.Outside {
				n++
				sum += p.Rates[f.ID].Rate
			}
		}
		return n, sum
	}
	base, rate := total(sys, prac)
	rich, richer := *sys, *prac
	rich.Faults, richer.Rates = slices.Clone(sys.Faults), maps.Clone(prac.Rates)
	multiply(&rich, &richer, 3*base)
	if n, sum := total(&rich, &richer); n != 3*base || math.Abs(sum-rate) > 1e-9*rate {
		t.Errorf("%d faults with a rate of %g together, want %d with %g (source: closed form, each rate shared by three)", n, sum, 3*base, rate)
	}
}
