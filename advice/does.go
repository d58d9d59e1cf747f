package advice

import (
	"math"

	"chargewright/planning"
	"chargewright/prediction"
	"chargewright/question"
)

// What a customer notices, as bounds on what the model predicts with everything
// at its median. Each is soft over its width, because customers are no meters.
// Basis: memory.
var (
	chargesLess = bound{0.5, 1.0}   // [A] into the battery with loads off: nothing charges it
	carriesLess = bound{0, 2.0}     // [A] into the battery with lamps and blower on: weak
	boils       = bound{15.0, 0.15} // [V] at 2000 rpm: too much
	drawsOff    = bound{0.1, 0.05}  // [A] out of it with everything off: a drain
	cranksLess  = bound{9.0, 0.4}   // [V] while cranking: the battery cannot
)

type bound struct{ at, width float64 }

// above is how sure it is that x is above the bound.
func (b bound) above(x float64) float64 { return 1 / (1 + math.Exp(-(x-b.at)/b.width*2)) }
func (b bound) below(x float64) float64 { return 1 - b.above(x) }

// scenes are the setups that a customer knows the vehicle in, named by the
// procedure that stands so. A system without one leaves its symptom out.
var scenes = [...]string{"charge-volts", "loaded-output", "quick-volts", "drain", "crank-volts"}

const (
	sceneOff = iota
	sceneLoaded
	sceneQuick
	sceneStill
	sceneCrank
)

// doer predicts what a vehicle does under a fault.
type doer struct {
	m     *prediction.Model
	w     *prediction.Worker
	n     int // magnitude components
	sign  float64
	asked [len(scenes)]*prediction.Asked
}

func newDoer(b *planning.Board, components int) (*doer, error) {
	d := &doer{m: b.Model, w: b.Model.NewWorker(), n: components}
	sys := b.Model.Sys
	through, sign := batteryBranch(sys)
	if d.sign = sign; through == "" {
		return d, nil
	}
	for k, id := range scenes {
		for i, p := range b.Procs {
			if p.ID != id {
				continue
			}
			q := b.Question(i, question.Setup{})
			q.Seek = []question.Observable{
				{Kind: question.Volts, Red: sys.Battery.Positive, Black: sys.Battery.Negative},
				{Kind: question.Amps, Through: through},
			}
			a, err := b.Model.Ask(q)
			if err != nil {
				return nil, err
			}
			d.asked[k] = &a
		}
	}
	return d, nil
}

// does returns what the vehicle does under a fault (-1 = sound), averaged over
// how bad the fault may be.
func (d *doer) does(fault int) [doings]float64 {
	var out [doings]float64
	h := prediction.Hypothesis{}
	n := 1
	if fault >= 0 {
		h.Faults = []int{fault}
		if d.m.Sys.Faults[fault].Magnitude != nil {
			n = d.n
		}
	}
	for c := range n {
		comp := prediction.Component{}
		if fault >= 0 {
			if g := d.m.Sys.Faults[fault].Magnitude; g != nil {
				comp.Mean[0], comp.SD[0] = prediction.MagnitudeComponent(g, c, n)
			}
		}
		d.w.Begin()
		d.w.Hold(h, comp, make([]float64, d.m.Dims()))
		for i, p := range d.one() {
			out[i] += p / float64(n)
		}
	}
	return out
}

// one sorts the vehicle that is held into what it does. The worse is noticed
// first: a vehicle that charges nothing is not said to have a drain.
func (d *doer) one() [doings]float64 {
	off, okOff := d.read(sceneOff)
	loaded, okLoaded := d.read(sceneLoaded)
	quick, okQuick := d.read(sceneQuick)
	still, okStill := d.read(sceneStill)
	crank, okCrank := d.read(sceneCrank)
	var out [doings]float64
	left := 1.0
	take := func(kind int, ok bool, p float64) {
		if ok {
			out[kind] += left * p
			left *= 1 - p
		}
	}
	take(doesHigh, okQuick, boils.above(quick.volts))
	take(doesNothing, okOff, chargesLess.below(off.amps))
	take(doesTired, okCrank, cranksLess.below(crank.volts))
	take(doesDrain, okStill, drawsOff.above(-still.amps))
	take(doesWeak, okLoaded, carriesLess.below(loaded.amps))
	out[doesRight] += left
	return out
}

type seen struct{ volts, amps float64 }

func (d *doer) read(scene int) (seen, bool) {
	a := d.asked[scene]
	if a == nil || d.w.Solve(a) != nil {
		return seen{}, false
	}
	s := seen{d.w.Read(&a.Probes[0], nil), d.sign * d.w.Read(&a.Probes[1], nil)}
	return s, !math.IsNaN(s.volts) && !math.IsNaN(s.amps)
}
