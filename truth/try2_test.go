package truth

import (
	"fmt"
	"testing"
	"math"

	"chargewright/internal/ngspice"
	"chargewright/machine"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

func TestTry2(t *testing.T) {
	sys, _ := system.ByID("isolated-earth-side")
	m, _ := prediction.Compile(sys)
	procs, _ := question.Library()
	p := procs["ac-volts"]
	tg, _ := p.Target(sys)
	pl, _ := sys.Rig.Path(sys.Rig.Rest, tg)
	set := question.Setup{Rig: pl.Final, Engine: question.EngineSpeed(&sys.Rig, pl.Final)}
	for _, f := range []string{"regulator-full-field", "diode-open"} {
	v := Sound(m)
	i, _ := m.FaultIndex(f)
	v.Fault.Faults = []int{i}
	n, _ := v.Write(m, set, Options{}, 0.4)
	raw, err := ngspice.Raw("ngspice", n.Text)
	if err != nil {
		t.Fatal(err)
	}
	w, _ := parseRaw(raw)
	cuts, _ := n.windows(w)
	col, _ := w.get("i(vxout)")
	mean := cuts[1].mean(col)
	vd, _ := w.get("n_stud")
	vc, _ := w.get("n_case")
	fld, _ := w.get("i(vxfield)")
	fm := cuts[1].mean(fld)
	fmt.Println("points", len(w.time), "out mean", mean, "rms", math.Sqrt(cuts[1].product(col, col, mean, mean)), "V", cuts[1].mean(vd)-cuts[1].mean(vc), "field", fm, "rms", math.Sqrt(cuts[1].product(fld, fld, fm, fm)))
	val := m.Values(v.Fault, v.Comp, set, v.Z)
	al := val.Alternator
	om := al[machine.Omega] * (1 - al[machine.Slip])
	phi := 2*fm/(2.5+fm) + al[machine.Residual]
	V := cuts[1].mean(vd) - cuts[1].mean(vc)
	pat := machine.Pattern(al[machine.PatternIndex])
	for _, src := range []float64{0, 0.0352} {
		s, err := machine.SteadyState(machine.OperatingPoint{EMF: al[machine.Flux] * om * phi, Omega: om, Ohms: al[machine.StatorOhms], Henries: al[machine.Inductance], Volts: V - src*mean, SourceOhms: src, Diode: machine.PressFit, Steps: 4001, Bridge: pat.Changes(1000)})
		fmt.Println(src, s.Out, err)
	}
	a, _ := machine.NewAlternator(machine.PressFit, 2.5, 1)
	x := []float64{V, 0, 0, 0, fm}
	fmt.Println("table", a.Ripple(x, al, machine.Mean, nil, nil), a.Ripple(x, al, machine.ACRms, nil, nil), a.Ripple(x, al, machine.Order6, nil, nil))
	}
}
