package truth

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"chargewright/internal/near"
	"chargewright/question"
	"chargewright/system"
)

func TestDrawFollowsTheRates(t *testing.T) {
	m, _ := shared(t)
	p, err := system.DefaultPractice()
	if err != nil {
		t.Fatal(err)
	}
	const n = 40000
	count := map[string]int{}
	sum, square, outside := 0.0, 0.0, 0
	rng := rand.New(rand.NewPCG(3, 0))
	for range n {
		v, err := Draw(rng, m, p, DrawOptions{Spread: 1.5, Outside: true})
		if err != nil {
			t.Fatal(err)
		}
		id := ""
		if len(v.Fault.Faults) > 0 {
			id = m.Sys.Faults[v.Fault.Faults[0]].ID
			if m.Sys.Faults[v.Fault.Faults[0]].Outside {
				outside++
			}
		}
		count[id]++
		sum += v.Z[0]
		square += v.Z[0] * v.Z[0]
	}
	total := p.NoFault.Rate + p.NoneOfThem.Rate
	for _, f := range m.Sys.Faults {
		if !f.Outside {
			total += p.Rates[f.ID].Rate
		}
	}
	// Four standard deviations of a count: one in 16,000, times 100 checks.
	check := func(what string, got int, rate float64) {
		want := n * rate / total
		near.Check(t, what, float64(got), want, near.Tol{Abs: 4*math.Sqrt(want) + 1}, "closed form: the practice file's rate over the sum of rates")
	}
	check("no fault", count[""], p.NoFault.Rate)
	check("outside the list", outside, p.NoneOfThem.Rate)
	for _, f := range m.Sys.Faults {
		if !f.Outside {
			check(f.ID, count[f.ID], p.Rates[f.ID].Rate)
		}
	}
	near.Check(t, "mean of a figure", sum/n, 0, near.Tol{Abs: 4 * 1.5 / math.Sqrt(n)}, "closed form: standard normal times 1.5")
	near.Check(t, "its sd", math.Sqrt(square/n), 1.5, near.Tol{Abs: 4 * 1.5 / math.Sqrt(2*n)}, "closed form: standard normal times 1.5")
}

func TestDrawOptions(t *testing.T) {
	m, _ := shared(t)
	p, err := system.DefaultPractice()
	if err != nil {
		t.Fatal(err)
	}
	draw := func(seed uint64, o DrawOptions) Vehicle {
		v, err := Draw(rand.New(rand.NewPCG(seed, 0)), m, p, o)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	if a, b := draw(5, DrawOptions{}), draw(5, DrawOptions{}); a.Name != b.Name || !slices.Equal(a.Z, b.Z) {
		t.Error("one seed drew two vehicles")
	}
	pairs := 0
	for s := range uint64(2000) {
		v := draw(s, DrawOptions{Follows: true})
		if len(v.Fault.Faults) == 2 {
			pairs++
			first, second := m.Sys.Faults[v.Fault.Faults[0]], m.Sys.Faults[v.Fault.Faults[1]].ID
			if !slices.ContainsFunc(first.Follows, func(f system.Follow) bool { return f.Fault == second }) {
				t.Errorf("%s does not follow from %s", second, first.ID)
			}
		}
	}
	if pairs == 0 {
		t.Error("no fault brought another")
	}
	only := func(id string, rate float64) float64 {
		if id == "pulley-loose" {
			return 1e9
		}
		return 0
	}
	for s := range uint64(500) {
		v := draw(s, DrawOptions{Rate: only})
		if x := v.magnitude(m, 0); v.Name != "pulley-loose" || x > 1 {
			t.Fatalf("%s: slips by %.3g of its speed", v.Name, x)
		}
	}
	if _, err := Draw(rand.New(rand.NewPCG(1, 0)), m, &system.Practice{}, DrawOptions{}); err == nil {
		t.Error("drew from no rates")
	}
}

// Looks come with the shares of the catalogue.
func TestLooks(t *testing.T) {
	_, procs := shared(t)
	const n = 20000
	for id, p := range procs {
		if p.Look == nil {
			continue
		}
		for _, faults := range [][]string{nil, {firstOf(p)}} {
			want := p.Look.Otherwise
			if faults != nil {
				want = p.Look.Given[faults[0]]
			}
			count := map[string]float64{}
			for seed := range uint64(n) {
				v, err := Looks{procs, seed}.see(id, faults)
				if err != nil {
					t.Fatal(err)
				}
				count[v.Class]++
			}
			for i, c := range p.Look.Classes {
				// Five standard deviations: some 300 checks.
				near.Check(t, id+": "+c, count[c]/n, want[i], near.Tol{Abs: 5*math.Sqrt(want[i]*(1-want[i])/n) + 1e-9}, "table: system/library/procedures/"+id+".yaml")
			}
		}
	}
	if _, err := (Looks{}).see("look-belt", nil); err == nil {
		t.Error("saw without a catalogue")
	}
}

func firstOf(p *question.Procedure) string {
	var ids []string
	for id := range p.Look.Given {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids[0]
}
