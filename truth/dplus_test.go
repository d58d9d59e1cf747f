package truth

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"chargewright/internal/sample"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// TestDPlusTermAgainstTimeDomain: what the model term for D+ says of a vehicle is what its
// tables are off by. D+ against the stud at 2000 rpm, on every shipped arrangement with
// field diodes and for every pattern that D+ has a table of: time domain less tables, in
// units of the term, has an rms of one at most over all that share a size of the term, of two
// for any one pattern, and not under a third, which would say too little of D+. The source of
// both is our own time-domain solver.
func TestDPlusTermAgainstTimeDomain(t *testing.T) {
	patterns := []string{
		"", "diode-open", "diode-open-negative", "diode-short", "phase-open", "phase-short", "phase-earth", "field-diode-open", "field-diode-short",
	}
	type pooled struct{ squares, n float64 }
	sizes := map[string]pooled{}
	for _, id := range system.Library() {
		m, procs := compiled(t, id)
		term := m.DPlusTerm()
		if (term >= 0) != (m.Sys.Machine.DPlus != "") {
			t.Errorf("%s: the model term for D+ is coordinate %d", id, term)
		}
		if term < 0 {
			continue
		}
		proc := "dplus-volts"
		if ok, _ := procs[proc].Applies(m.Sys); !ok {
			proc = "dplus-minus-volts"
		}
		q, err := Question(m, procs[proc])
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range patterns {
			rms := apartOnDPlus(t, m, q, term, name)
			t.Logf("%-16s %-20s %.2f of the term", id, name, rms)
			if rms > 2 {
				t.Errorf("%s, %q: D+ of the tables is off by %.2f of the term", id, name, rms)
			}
			size := "a fault"
			switch name {
			case "":
				size = "sound"
			case "phase-earth", "field-diode-short":
				size = "a diode missing on the way of D+"
			}
			sizes[size] = pooled{sizes[size].squares + rms*rms, sizes[size].n + 1}
		}
	}
	for size, p := range sizes {
		rms := math.Sqrt(p.squares / p.n)
		t.Logf("%s: %.2f of the term", size, rms)
		if rms > 1 || rms < 1.0/3 {
			t.Errorf("%s: D+ of the tables is off by %.2f of the term", size, rms)
		}
	}
}

// apartOnDPlus is the rms of time domain less tables over some vehicles with a fault, in
// units of the model term.
func apartOnDPlus(t *testing.T, m *prediction.Model, q question.Question, term int, fault string) float64 {
	t.Helper()
	var faults []int
	if k := slices.IndexFunc(m.Sys.Faults, func(f system.Fault) bool { return f.ID == fault }); k >= 0 {
		faults = []int{k}
	}
	over := func(from Answerer) float64 { // D+ over the stud
		vals, err := from.Answer(q)
		if err != nil {
			t.Fatal(err)
		}
		return vals[len(vals)-1].X
	}
	sum, n := 0.0, 0
	for k := range sample.Count(3, 12) {
		rng := rand.New(rand.NewPCG(77, uint64(k)))
		v := withoutModelTerms(m, Figures(rng, m, faults, DrawOptions{}))
		off := v
		off.Z = slices.Clone(v.Z)
		off.Z[term] = 1
		timed := v.Timed(m, Looks{})
		tables, inTime, one := over(v.Table(m, Looks{})), over(timed), over(off.Table(m, Looks{}))
		if timed.Solved == 0 {
			continue // asleep, or the two did not come to one point
		}
		e := (inTime - tables) / math.Abs(one-tables)
		sum += e * e
		n++
	}
	return math.Sqrt(sum / float64(max(1, n)))
}
