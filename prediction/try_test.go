package prediction

import (
	"fmt"
	"testing"

	"chargewright/question"
	"chargewright/system"
)

func TestTry(t *testing.T) {
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	m, err := Compile(sys)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println("dims", m.Dims(), "unknowns", m.Unknowns(), "flops", m.Flops(), "faults", len(sys.Faults))
	procs, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	w := m.NewWorker()
	z := make([]float64, m.Dims())
	for _, id := range []string{"battery-rest-volts", "charge-volts", "loaded-output", "drop-feed", "drop-earth", "field-ends", "field-current", "full-field-output", "ac-volts", "rotor-ohms"} {
		p := procs[id]
		tg, err := p.Target(sys)
		if err != nil {
			t.Fatal(err)
		}
		pl, err := sys.Rig.Path(sys.Rig.Rest, tg)
		if err != nil {
			t.Error(id, err)
			continue
		}
		q := question.Question{Procedure: id, Seek: p.Seek(), Setup: question.Setup{Rig: pl.Final, Engine: question.EngineSpeed(&sys.Rig, pl.Final), Hold: p.Hold}}
		a, err := m.Ask(q)
		if err != nil {
			t.Error(id, err)
			continue
		}
		for _, f := range []string{"", "rotor-open", "diode-open", "diode-short", "feed-joint-bulkhead-a", "regulator-full-field", "control-wire-earthed", "regulator-earth", "field-feed-joint"} {
			h := Hypothesis{}
			comp := Component{}
			if f != "" {
				i, ok := m.FaultIndex(f)
				if !ok {
					t.Fatal(f)
				}
				h.Faults = []int{i}
				if mg := sys.Faults[i].Magnitude; mg != nil {
					comp.Mean[0] = (logOf(mg.Low) + logOf(mg.High)) / 2
					comp.SD[0] = 0.3
				}
			}
			w.Begin()
			w.Hold(h, comp, z)
			err := w.Solve(&a)
			fmt.Printf("%-20s %-24s", id, f)
			if err != nil {
				fmt.Println(err)
				continue
			}
			for i := range a.Probes {
				row := make([]float64, m.Dims())
				fmt.Printf(" %s=%.4g", a.Probes[i].Obs.Note, w.Read(&a.Probes[i], row))
			}
			fmt.Printf("  %v D=%.3f newton=%d\n", w.Sheet().Regime, w.main.Duty, w.Work().Newton)
		}
	}
}

func logOf(x float64) float64 {
	n := 0.0
	for x < 1 {
		x *= 10
		n--
	}
	for x >= 10 {
		x /= 10
		n++
	}
	return n + (x-1)/9
}
