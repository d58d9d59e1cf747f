package truth

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"chargewright/internal/near"
	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
)

// fixed answers always the same.
type fixed []question.Value

func (f fixed) Answer(question.Question) ([]question.Value, error) { return slices.Clone(f), nil }

func TestThroughHasTheMetersUncertainty(t *testing.T) {
	for _, c := range []struct {
		id   string
		kind question.Kind
		x    float64
	}{{"dmm", question.Volts, 14.2}, {"dmm", question.Volts, 0.3}, {"dc-clamp", question.Amps, 31.3}, {"hydrometer", question.Density, 1.21}, {"dmm", question.Ohms, 4.9}} {
		in, _ := meter.Find(c.id)
		u, resolution, _, err := in.Standard(string(c.kind), c.x)
		if err != nil {
			t.Fatal(err)
		}
		rng := rand.New(rand.NewPCG(7, 7))
		const n = 20000
		sum, square := 0.0, 0.0
		for range n {
			v, err := Through(in, rng, c.kind, c.x)
			if err != nil || v.How != question.Measured {
				t.Fatal(v, err)
			}
			if k := v.X / resolution; math.Abs(k-math.Round(k)) > 1e-6 {
				t.Fatalf("%s shows %v, not a multiple of %v", c.id, v.X, resolution)
			}
			sum += v.X - c.x
			square += (v.X - c.x) * (v.X - c.x)
		}
		// Rounding of a spread of half a count or more adds q^2/12 to better
		// than 2 %.
		near.Check(t, c.id+": sd", math.Sqrt(square/n), u, near.Tol{Rel: 0.03}, "closed form: the instrument's standard uncertainty, rounding included")
		near.Check(t, c.id+": mean", sum/n, 0, near.Tol{Abs: 4 * u / math.Sqrt(n)}, "closed form: no bias")
	}
	in, _ := meter.Find("dmm")
	if v, err := Through(in, rand.New(rand.NewPCG(1, 1)), question.Ohms, 1e9); err != nil || v.How != question.Over || v.Lo != 6e6 {
		t.Errorf("1 GOhm reads %+v, %v", v, err)
	}
	if _, err := Through(in, rand.New(rand.NewPCG(1, 1)), question.Amps, 1); err == nil {
		t.Error("a meter without amps read them")
	}
}

func TestMeter(t *testing.T) {
	q := question.Question{Procedure: "p", Seek: []question.Observable{
		{Kind: question.Volts, Meter: "dmm"}, {Kind: question.Amps, Meter: "shunt-ammeter"}, {Kind: question.Look, Classes: []string{"a", "b", "c"}},
	}}
	truth := fixed{{How: question.Measured, X: 14}, {How: question.Measured, X: 20}, {How: question.Class, Class: "b"}}
	ask := func(m *Meter, q question.Question) []question.Value {
		v, err := m.Answer(q)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	// Order of asking makes no difference, asking again does.
	a, b := NewMeter(truth, 9, Noise{}), NewMeter(truth, 9, Noise{})
	other := q
	other.Procedure = "o"
	first := ask(a, q)
	ask(b, other)
	if !slices.Equal(first, ask(b, q)) {
		t.Error("what was asked before changed a reading")
	}
	if slices.Equal(first, ask(a, q)) {
		t.Error("the same reading twice")
	}
	const n = 8000
	slips, looks, missed := map[string]float64{}, 0.0, 0.0
	for seed := range uint64(n) {
		m := NewMeter(truth, seed, Noise{Slip: 0.05, Look: 0.1, NotTaken: 0.02})
		v := ask(m, q)
		for _, s := range m.Slips {
			slips[s.What]++
		}
		if v[2].How == question.Class && v[2].Class != "b" {
			looks++
		}
		for _, x := range v {
			if x.How == question.NotTaken {
				missed++
			}
		}
	}
	five := func(p float64, k float64) near.Tol { return near.Tol{Abs: 5 * math.Sqrt(p*(1-p)/k)} }
	near.Check(t, "looks entered wrong", looks/n, 0.98*0.1, five(0.098, n), "closed form: taken times wrong")
	near.Check(t, "not taken", missed/(3*n), 0.02, five(0.02, 3*n), "closed form: as asked for")
	total := 0.0
	for _, k := range slips {
		total += k
	}
	near.Check(t, "slips", total/(2*n), 0.98*0.05, five(0.049, 2*n), "closed form: taken times slipped")
	for _, what := range []string{"probe not touching", "leads the wrong way round", "millivolts taken for volts", "decimal point slipped", "fuse of the ammeter open"} {
		if slips[what] == 0 {
			t.Errorf("nobody slipped like this: %s", what)
		}
	}
	if _, err := NewMeter(truth, 1, Noise{}).Answer(question.Question{Seek: []question.Observable{{Kind: question.Volts, Meter: "none"}, {}, {}}}); err == nil {
		t.Error("read with an instrument that is not there")
	}
}

// Without noise a meter beside a table vehicle answers every procedure of its
// system, and no other is asked of it.
func TestTableAnswersTheCatalogue(t *testing.T) {
	for _, c := range pairsOf {
		t.Run(c.system, func(t *testing.T) {
			m, procs := compiled(t, c.system)
			answersTheCatalogue(t, m, procs)
		})
	}
}

func answersTheCatalogue(t *testing.T, m *prediction.Model, procs question.Catalogue) {
	t.Helper()
	v := Sound(m)
	table := v.Table(m, Looks{procs, 1})
	read := NewMeter(table, 1, Noise{})
	for _, id := range procs.IDs() {
		q, err := Question(m, procs[id])
		if done, why := procs[id].Applies(m.Sys); !done {
			if err == nil || !strings.Contains(err.Error(), why) {
				t.Errorf("%s is not for %s, and is asked: %v", id, m.Sys.ID, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", id, err)
			continue
		}
		vals, err := read.Answer(q)
		if err != nil || len(vals) != len(q.Seek) {
			t.Errorf("%s: %v, %v", id, vals, err)
		}
	}
}

func TestSlipsStayWithTheKind(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	clamp, _ := meter.Find("dc-clamp")
	shunt, _ := meter.Find("shunt-ammeter")
	for range 200 {
		if _, what := slipOf(clamp, rng, question.Amps, question.Value{How: question.Measured, X: 1}); what == "fuse of the ammeter open" {
			t.Fatal("a clamp blew its fuse")
		}
		if _, what := slipOf(shunt, rng, question.Amps, question.Value{How: question.Measured, X: 1}); what == "clamp not zeroed" {
			t.Fatal("a shunt was not zeroed")
		}
		if _, what := slipOf(clamp, rng, question.Speed, question.Value{How: question.Measured, X: 1}); what != "" {
			t.Fatal("a slip without a kind:", what)
		}
	}
}
