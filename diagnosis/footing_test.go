package diagnosis

import (
	"math"
	"math/rand/v2"
	"testing"

	"chargewright/internal/testcar"
	"chargewright/prediction"
)

// TestFootingSaysTheSame: a forecast that starts from where the sound vehicle stands says
// what one from the middle of the prior says, with fewer iterations. Operating points are
// found to 1e-4 of a spread and then corrected, which squares it: a hundredth of a meter's
// uncertainty is far above that and far below what a plan sees.
func TestFootingSaysTheSame(t *testing.T) {
	c, err := testcar.Library("coach-24")
	if err != nil {
		t.Fatal(err)
	}
	pr := prior(c, "second-brush-worn", "link-poor", "second-sense-wire-open")
	rng := rand.New(rand.NewPCG(8, 8))
	z := make([]float64, c.Model.Dims())
	for i := range c.Model.Coords {
		z[i] = rng.NormFloat64()
	}
	rs := take(t, c, &pr, testcar.Truth{Z: z}, rng, "battery-rest-volts", "both-light-amps")
	b := add(t, begin(t, pr), rs...)
	var asked []*prediction.Asked
	for _, id := range []string{"both-forced-amps", "both-idle-amps", "charge-volts"} {
		q, err := c.Question(id)
		if err != nil {
			t.Fatal(err)
		}
		a, err := c.Model.Ask(q)
		if err != nil {
			t.Fatal(err)
		}
		asked = append(asked, &a)
	}
	slots, _ := b.forecastSlots(1e-3)
	like := b.footing(asked)
	compared := 0
	var newton [2]int
	for _, s := range slots {
		var said [2][]*Joint
		for k, from := range []prediction.Footing{nil, like} {
			f := newFitter(&b)
			f.w.Like(from)
			said[k] = f.forecast(s.hyp, s.fit, asked)
			newton[k] += f.spent().Newton
			f.done()
		}
		for q, a := range asked {
			for v := range a.Probes {
				compared++
				x, y := said[0][q].Mean[v], said[1][q].Mean[v]
				if noise := pr.noise(a.Probes[v].Obs, x); math.Abs(x-y) > 0.01*noise {
					t.Errorf("%s, value %d: %.5g from there, %.5g from the middle", b.name(s.hyp), v, y, x)
				}
			}
		}
	}
	t.Logf("%d values; %d iterations from the middle, %d from there", compared, newton[0], newton[1])
	if compared < 30 || newton[1] >= newton[0] {
		t.Errorf("%d values compared, %d iterations for %d", compared, newton[1], newton[0])
	}
}
