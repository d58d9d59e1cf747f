package truth

import (
	"fmt"
	"testing"
)

func TestTmpStress(t *testing.T) {
	m, procs := model(t)
	f := fixture(t, "stress.json")
	for k := range f.Vehicles {
		s, err := f.Stored(m, k)
		if err != nil {
			t.Fatal(err)
		}
		tw := s.Vehicle.Table(m, Looks{})
		for _, i := range modelTerms(m) {
			tw.Vehicle.Z[i] = 0
		}
		fmt.Println(s.Vehicle.Name, s.Vehicle.magnitude(m, 0))
		for _, id := range []string{"battery-rest-volts", "charge-volts", "loaded-output", "loaded-output-idle", "full-field-output", "quick-volts", "drop-feed", "ac-volts", "ac-volts-low", "crank-volts", "field-current", "battery-load"} {
			q, _ := Question(m, procs[id])
			a, err := s.Answer(q)
			b, err2 := tw.Answer(q)
			if err != nil || err2 != nil {
				fmt.Println(id, err, err2)
				continue
			}
			r, _ := s.Run(q.Setup)
			fmt.Printf("  %-20s rpm %.0f settle %.1f drift %.2f", id, r.Engine*9.5493, r.Settle, r.Drift)
			for i := range a {
				fmt.Printf("  %.4g/%.4g", b[i].X, a[i].X)
			}
			fmt.Println()
		}
	}
}
