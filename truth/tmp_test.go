package truth

import (
	"fmt"
	"strings"
	"testing"

	"chargewright/machine"
)

func TestTmpSrc(t *testing.T) {
	m, procs := model(t)
	f := fixture(t, "pairs.json")
	for k := range f.Vehicles {
		s, _ := f.Stored(m, k)
		_, proc, _ := strings.Cut(s.Vehicle.Name, ", ")
		q, _ := Question(m, procs[proc])
		r, _ := s.Run(q.Setup)
		val := m.Values(s.Vehicle.Fault, s.Vehicle.Comp, q.Setup, s.Vehicle.Z)
		z := append([]float64(nil), s.Vehicle.Z...)
		for _, i := range modelTerms(m) {
			z[i] = 0
		}
		val = m.Values(s.Vehicle.Fault, s.Vehicle.Comp, q.Setup, z)
		al := val.Alternator
		pat := machine.Pattern(al[machine.PatternIndex])
		if pat == 0 && k > 5 || r.Output < 1 {
			continue
		}
		om := al[machine.Omega] * (1 - al[machine.Slip])
		phi := 2*r.Field/(2.5+r.Field) + al[machine.Residual]
		V := r.Volts[0] - r.Volts[s.where.point["case"]]
		fmt.Printf("%s: ngspice %.4f A at %.4f V\n", s.Vehicle.Name, r.Output, V)
		a, _ := machine.NewAlternator(machine.PressFit, 2.5, 1)
		x := []float64{V, 0, 0, 0, r.Field}
		fmt.Printf("   table %.4f ripple %.4f\n", a.Ripple(x, al, machine.Mean, nil, nil), a.Ripple(x, al, machine.ACRms, nil, nil))
		for _, src := range []float64{0, 0.02, 0.035, 0.06, 0.3, 1, 3} {
			sv, err := machine.SteadyState(machine.OperatingPoint{EMF: al[machine.Flux] * om * phi, Omega: om, Ohms: al[machine.StatorOhms], Henries: al[machine.Inductance], Volts: V + src*r.Output*-1, SourceOhms: src, Diode: machine.PressFit, Steps: 2003, Bridge: pat.Changes(1000)})
			fmt.Printf("   source %.3f Ohm: %.4f A, ripple %.4f (%.3f) %v, mean V %.4f\n", src, sv.Out[0], sv.Out[machine.ACRms], sv.Out[machine.ACRms]/a.Ripple(x, al, machine.ACRms, nil, nil), err, V-src*r.Output+src*sv.Out[0])
		}
	}
}
