package truth

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"chargewright/internal/need"
	"chargewright/internal/ngspice"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

func model(t testing.TB) (*prediction.Model, question.Catalogue) {
	t.Helper()
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	m, err := prediction.Compile(sys)
	if err != nil {
		t.Fatal(err)
	}
	procs, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	return m, procs
}

func fixture(t testing.TB, name string) *Fixture {
	t.Helper()
	text, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	f, err := ParseFixture(text)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func tmpPairs(t *testing.T) {
	m, procs := model(t)
	f := fixture(t, "pairs.json")
	for k := range f.Vehicles {
		s, err := f.Stored(m, k)
		if err != nil {
			t.Fatal(err)
		}
		_, proc, _ := strings.Cut(s.Vehicle.Name, ", ")
		q, _ := Question(m, procs[proc])
		a, err := s.Answer(q)
		if err != nil {
			t.Error(err)
			continue
		}
		tw := s.Vehicle.Table(m, Looks{})
		tw.worker.CountRoots()
		for _, i := range modelTerms(m) {
			tw.Vehicle.Z[i] = 0
		}
		b, err := tw.Answer(q)
		if err != nil {
			t.Error(err)
			continue
		}
		r, _ := s.Run(q.Setup)
		fmt.Printf("%-48s %5.2f %-10s roots %d drift %.2f\n", s.Vehicle.Name, r.Duty, tw.worker.Sheet().Regime, tw.worker.Sheet().Roots, r.Drift)
		for i, o := range q.Seek {
			fmt.Printf("      %-30s ours %10.5g  ngspice %10.5g  %+8.4f %+6.2f %%\n", o.Note, b[i].X, a[i].X, b[i].X-a[i].X, 100*(b[i].X/a[i].X-1))
		}
		wv, wi, ov, oi := "", "", 0.0, 0.0
		for i, p := range f.Points {
			if i == 13 {
				continue
			}
			v, err := tw.Answer(question.Question{Setup: q.Setup, Seek: []question.Observable{{Kind: question.Volts, Red: p, Black: "batn"}}})
			if err == nil {
				if d := math.Abs(v[0].X - r.Volts[i]); d > ov {
					ov, wv = d, fmt.Sprintf("%s ours %.5g ngspice %.5g", p, v[0].X, r.Volts[i])
				}
			}
		}
		for i, p := range f.Elements {
			v, err := tw.Answer(question.Question{Setup: q.Setup, Seek: []question.Observable{{Kind: question.Amps, Through: p}}})
			if err == nil {
				if d := math.Abs(v[0].X - r.Amps[i]); d > oi {
					oi, wi = d, fmt.Sprintf("%s ours %.5g ngspice %.5g", p, v[0].X, r.Amps[i])
				}
			}
		}
		fmt.Println("      worst", wv, ";", wi)
		for _, sr := range f.Vehicles[k].Runs {
			if sr.Start != "" {
				fmt.Printf("      resting start: duty %.3f batp %.4f (full-field start %.4f)\n", sr.Duty, sr.Volts[12], r.Volts[12])
			}
		}
	}
}

func TestTmpPairs(t *testing.T) { tmpPairs(t) }

var _ = ngspice.Raw
var _ = need.Program
