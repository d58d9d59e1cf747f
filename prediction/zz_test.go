package prediction_test

import (
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
	"fmt"
	"math"
	"testing"
)

func TestZZ(t *testing.T) {
	sys, err := system.ByID("lamp-excited")
	if err != nil {
		t.Fatal(err)
	}
	m, err := prediction.Compile(sys)
	if err != nil {
		t.Fatal(err)
	}
	w := m.NewWorker()
	seek := []question.Observable{{Kind: question.Volts, Red: "batp", Black: "batn"}, {Kind: question.Volts, Red: "dplus", Black: "case"}, {Kind: question.Volts, Red: "stud", Black: "case"}, {Kind: question.Volts, Red: "lamp-in", Black: "lamp-out"}, {Kind: question.Amps, Through: "w-charge"}, {Kind: question.Amps, Through: "brush-b"}, {Kind: question.Amps, Through: "w-lamp"}}
	fs := append([]system.Fault{{ID: ""}}, sys.Faults...)
	for _, f := range fs {
		if f.Outside {
			continue
		}
		h := prediction.Hypothesis{}
		var comp prediction.Component
		if f.ID != "" {
			i, _ := m.FaultIndex(f.ID)
			h.Faults = []int{i}
			if f.Magnitude != nil {
				comp.Mean[0] = 0.5 * (math.Log10(f.Magnitude.Low) + math.Log10(f.Magnitude.High))
			}
		}
		fmt.Printf("%-24s", f.ID)
		for _, pos := range []map[string]string{{"ignition": "off", "engine": "off"}, {"ignition": "on", "engine": "off"}, {"engine": "idle"}, {"engine": "fast"}, {"engine": "quick"}, {"engine": "quick", "accessories": "on"}, {"engine": "blip"}} {
			st := sys.Rig.Rest
			for i, p := range sys.Rig.Places {
				for k, q := range p.Positions {
					if pos[p.ID] == q.ID || p.ID == "ignition" && pos["ignition"] == "" && q.ID == "on" {
						st = st.With(i, k)
					}
				}
			}
			a, err := m.Ask(question.Question{Setup: question.Setup{Rig: st, Engine: question.EngineSpeed(&sys.Rig, st)}, Seek: seek})
			if err != nil {
				t.Fatal(err)
			}
			w.Hold(h, comp, make([]float64, m.Dims()))
			n0 := w.Work()
			if err := w.Solve(&a); err != nil {
				fmt.Printf(" | ERR %v", err)
				continue
			}
			n1 := w.Work()
			fmt.Printf(" | %5.2f D%5.2f S%5.2f L%5.2f %6.2fA f%5.2f (%d %s)", w.Read(&a.Probes[0], nil), w.Read(&a.Probes[1], nil), w.Read(&a.Probes[2], nil), w.Read(&a.Probes[3], nil), w.Read(&a.Probes[4], nil), w.Read(&a.Probes[5], nil), n1.Newton-n0.Newton, w.Sheet().Regime)
		}
		fmt.Println()
	}
}
