package truth

import (
	"fmt"
	"os"
	"testing"
	"time"

	"chargewright/internal/ngspice"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

func TestTry(t *testing.T) {
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	m, err := prediction.Compile(sys)
	if err != nil {
		t.Fatal(err)
	}
	procs, _ := question.Library()
	for _, id := range []string{"battery-rest-volts", "charge-volts", "loaded-output", "full-field-output", "ac-volts", "crank-volts", "field-draw"} {
		p := procs[id]
		tg, _ := p.Target(sys)
		pl, err := sys.Rig.Path(sys.Rig.Rest, tg)
		if err != nil {
			t.Fatal(err)
		}
		q := question.Question{Procedure: id, Seek: p.Seek(), Setup: question.Setup{Rig: pl.Final, Engine: question.EngineSpeed(&sys.Rig, pl.Final), Hold: p.Hold}}
		for _, f := range []string{"", "diode-open", "regulator-full-field"} {
			v := Sound(m)
			if f != "" {
				i, _ := m.FaultIndex(f)
				v.Fault.Faults = []int{i}
				v.Name = f
			}
			n, err := v.Write(m, q.Setup, Options{}, 0)
			if err != nil {
				t.Fatal(err)
			}
			os.WriteFile("/tmp/cw/"+id+"-"+f+".cir", []byte(n.Text), 0o644)
			s := NewSpice(m, v, Options{}, func(x string) ([]byte, error) { return ngspice.Raw("ngspice", x) })
			t0 := time.Now()
			a, err := s.Answer(q)
			d := time.Since(t0)
			if err != nil {
				fmt.Println(id, f, err)
				continue
			}
			r, _ := s.Run(q.Setup)
			b, err := v.Table(m, Looks{}).Answer(q)
			fmt.Printf("%s/%s: %v settle %.2f drift %.3g duty %.3f field %.3f", id, f, d.Round(time.Millisecond), r.Settle, r.Drift, r.Duty, r.Field)
			for i := range a {
				fmt.Printf("   %.5g|%.5g", a[i].X, b[i].X)
			}
			fmt.Println(err)
		}
	}
}
