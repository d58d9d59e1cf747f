package diagnosis

import (
	"math/rand/v2"
	"testing"

	"chargewright/internal/testcar"
	"chargewright/question"
)

// car is the reference vehicle; it is compiled once for all tests.
func car(t *testing.T) *testcar.Car {
	t.Helper()
	if shared == nil {
		c, err := testcar.Library("isolated-earth-side")
		if err != nil {
			t.Fatal(err)
		}
		shared = c
	}
	return shared
}

var shared *testcar.Car

// prior is a prior over the faults named (all when none is) with the shipped
// rates and settings.
func prior(c *testcar.Car, faults ...string) Prior {
	return Prior{
		Model: c.Model, Rates: c.Rates(faults...), NoFault: c.Practice.NoFault.Rate,
		Meters: c.Meters, Settings: DefaultSettings(), Look: looks(c),
	}
}

func looks(c *testcar.Car) func(string) *LookTable {
	return func(id string) *LookTable {
		p, ok := c.Procs[id]
		if !ok || p.Look == nil {
			return nil
		}
		return &LookTable{Classes: p.Look.Classes, Given: p.Look.Given, Otherwise: p.Look.Otherwise}
	}
}

// few is a small suspect list of every kind, so that tests stay quick: joints,
// opens, rotor, rectifier, regulator, drive, battery.
var few = []string{
	"feed-joint-bulkhead-a", "feed-joint-ammeter", "clamp-negative", "earth-joint-block", "field-feed-joint",
	"brush-worn", "diode-open", "regulator-no-field", "regulator-set-low", "regulator-set-high", "belt-slip",
	"belt-broken", "battery-worn",
}

// fewer is for tests in which pairs wake, which cost the square of the list.
var fewer = []string{
	"feed-joint-bulkhead-a", "clamp-negative", "earth-joint-block", "field-feed-joint", "brush-worn", "diode-open",
	"regulator-no-field", "regulator-set-low", "belt-slip", "battery-worn",
}

// take measures procedures on a hidden vehicle, none of the values wrong.
func take(t *testing.T, c *testcar.Car, pr *Prior, truth testcar.Truth, rng *rand.Rand, procs ...string) []question.Reading {
	t.Helper()
	w := c.Model.NewWorker()
	var out []question.Reading
	for _, id := range procs {
		q, err := c.Question(id)
		if err != nil {
			t.Fatal(err)
		}
		r, err := c.Measure(w, truth, q, pr.Noise, rng, 0, pr.Box)
		if err != nil {
			t.Fatal(err)
		}
		r.ID = id
		out = append(out, r)
	}
	return out
}

// begin starts a belief.
func begin(t *testing.T, pr Prior) Belief {
	t.Helper()
	b, err := Begin(pr)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// add adds readings one by one.
func add(t *testing.T, b Belief, rs ...question.Reading) Belief {
	t.Helper()
	for _, r := range rs {
		nb, err := b.With(r)
		if err != nil {
			t.Fatal(err)
		}
		b = nb
	}
	return b
}

// hyp is the index of the single fault, -1 for none.
func (b *Belief) hyp(fault int) int {
	for i, h := range b.Hyps {
		if len(h.Faults) == 1 && h.Faults[0] == fault && !h.Intermittent {
			return i
		}
	}
	return -1
}
