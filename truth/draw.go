package truth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"chargewright/prediction"
	"chargewright/system"
)

// DrawOptions say how vehicles are drawn. The zero value draws as the program
// believes: no consequences, nothing outside the list, spreads as they are.
type DrawOptions struct {
	Spread     float64 // times every free figure's spread; 0 means 1, the stress set has 1.5
	Components int     // of a magnitude; 0 means 3
	Follows    bool    // faults bring their consequences, in the shares the system gives
	Outside    bool    // none-of-these jobs are drawn, with a fault outside the list
	// Rate replaces a fault's rate; nil keeps the practice file's. The stress
	// set of wrong priors multiplies and divides here.
	Rate func(fault string, rate float64) float64
}

// Draw draws a hidden vehicle: a fault from the rates, how bad it is from the
// prior of its magnitude, every free figure from its own spread.
func Draw(rng *rand.Rand, m *prediction.Model, p *system.Practice, o DrawOptions) (Vehicle, error) {
	if o.Spread == 0 {
		o.Spread = 1
	}
	if o.Components == 0 {
		o.Components = 3
	}
	faults, err := drawFaults(rng, m, p, o)
	if err != nil {
		return Vehicle{}, err
	}
	return Figures(rng, m, faults, o), nil
}

// Figures draws everything but the faults.
func Figures(rng *rand.Rand, m *prediction.Model, faults []int, o DrawOptions) Vehicle {
	v := Vehicle{Name: "sound", Fault: prediction.Hypothesis{Faults: faults}, Z: make([]float64, m.Dims())}
	if len(faults) > 0 {
		v.Name = m.Sys.Faults[faults[0]].ID
	}
	spread, n := max(o.Spread, 0), max(o.Components, 1)
	late := ownStreams(m)
	for i := range v.Z {
		if slices.Contains(late, i) {
			continue
		}
		v.Z[i] = rng.NormFloat64()
		if i < len(m.Coords) {
			v.Z[i] *= spread
		}
	}
	for k, i := range late {
		// From streams of their own: these terms came later, and a seed's vehicle stays what it was.
		v.Z[i] = spread * rand.New(rand.NewPCG(math.Float64bits(v.Z[0]), math.Float64bits(v.Z[1])+uint64(k))).NormFloat64()
	}
	for _, i := range modelTerms(m) {
		v.Z[i] /= math.Max(spread, 1e-9) // the prediction's own error is no spread of vehicles
	}
	for k, f := range faults {
		if g := m.Sys.Faults[f].Magnitude; g != nil && k < prediction.Magnitudes {
			v.Comp.Mean[k], v.Comp.SD[k] = prediction.MagnitudeComponent(g, rng.IntN(n), n)
			for tries := 0; tries < 100 && !possible(&m.Sys.Faults[f], v.magnitude(m, k)); tries++ {
				v.Z[len(m.Coords)+k] = rng.NormFloat64()
			}
		}
	}
	return v
}

// ownStreams are the coordinates that vehicles were once drawn without: D+'s came before the
// others'.
func ownStreams(m *prediction.Model) []int {
	if d := m.DPlusTerm(); d >= 0 {
		return append([]int{d}, m.LaterTerms()...)
	}
	return m.LaterTerms()
}

// magnitude is how bad fault k of the vehicle is, SI.
func (v *Vehicle) magnitude(m *prediction.Model, k int) float64 {
	return math.Pow(10, v.Comp.Mean[k]+v.Comp.SD[k]*v.Z[len(m.Coords)+k])
}

// possible says whether a magnitude is one that a real part can have: the tails
// of its normal reach beyond, a belt that slips by more than all of its speed.
func possible(f *system.Fault, x float64) bool {
	for _, c := range f.Changes {
		if k, ok := system.LookupParam(c.Target); ok && c.How == "magnitude" && (x < k.Lo || x > k.Hi) {
			return false
		}
	}
	return true
}

// drawFaults draws one fault, or none, and what it brought about.
func drawFaults(rng *rand.Rand, m *prediction.Model, p *system.Practice, o DrawOptions) ([]int, error) {
	type entry struct {
		fault int
		rate  float64
	}
	list, total := []entry{{-1, p.NoFault.Rate}}, p.NoFault.Rate
	var outside []int
	for i, f := range m.Sys.Faults {
		if f.Outside {
			outside = append(outside, i)
			continue
		}
		rate := p.Rates[f.ID].Rate
		if o.Rate != nil {
			rate = o.Rate(f.ID, rate)
		}
		list = append(list, entry{i, rate})
		total += rate
	}
	if o.Outside && len(outside) > 0 {
		each := p.NoneOfThem.Rate / float64(len(outside))
		for _, i := range outside {
			list = append(list, entry{i, each})
			total += each
		}
	}
	if !(total > 0) {
		return nil, fmt.Errorf("truth: the practice figures give no fault of system %s a rate: nothing can be drawn", m.Sys.ID)
	}
	x := rng.Float64() * total
	at := slices.IndexFunc(list, func(e entry) bool { x -= e.rate; return x < 0 })
	if at < 0 {
		at = len(list) - 1 // rounding
	}
	f := list[at].fault
	if f < 0 {
		return nil, nil
	}
	faults := []int{f}
	if o.Follows {
		faults = append(faults, drawFollow(rng, m, f)...)
	}
	return faults, nil
}

// drawFollow draws at most one consequence.
func drawFollow(rng *rand.Rand, m *prediction.Model, fault int) []int {
	x := rng.Float64()
	for _, fo := range m.Sys.Faults[fault].Follows {
		if x -= fo.Share; x < 0 {
			if i, ok := m.FaultIndex(fo.Fault); ok {
				return []int{i}
			}
		}
	}
	return nil
}
