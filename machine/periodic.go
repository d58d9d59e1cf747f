package machine

import "math"

// Periodic is what Run found: means over a period and what alternates.
type Periodic struct {
	Stud        Figures // current out of the output terminal [A]
	StudVolts   Figures // of the output terminal [V]
	DPlus       Figures // current out of D+ [A]
	DPlusVolts  Figures // of D+ [V]
	Windings    [3]Flow // a, b, c
	Leads       [3]Flow // from winding to rectifier
	StarVolts   float64 // mean of the star point [V]; 0 in a delta
	PhaseVolts  [3]float64
	Circulating float64 // rms of the current that all three windings share [A]
	Periods     int     // integrated until the currents repeated; 0 when it stands
	Wave        []Sample
}

// Figures are the figures of something over a period.
type Figures struct {
	Mean       float64
	Orders     [len(orders)]float64 // peak amplitudes at the Orders of the electrical frequency
	PeakToPeak float64
	ACRms      float64 // rms of the alternating part
	Least      float64
	Greatest   float64
}

// Orders are the orders of the electrical frequency that are told.
func Orders() []int { return append([]int(nil), orders[:]...) }

// Flow is a winding's or lead's current [A].
type Flow struct{ Mean, RMS, Peak float64 }

// Sample is one instant.
type Sample struct {
	Turn       float64 // of the electrical period, 0 to 1
	Stud       float64 // current out of the output terminal [A]
	StudVolts  float64
	DPlus      float64 // current out of D+ [A]
	DPlusVolts float64
	PhaseVolts [3]float64 // rectifier terminals to case [V]
	Windings   [3]float64 // [A]
}

// signals are what is followed through a period, in this order.
type signals [numSignals]float64

const (
	studAmps = iota
	studVolts
	dplusAmps
	dplusVolts
	starVolts
	phaseVolts
	windingAmps = phaseVolts + 3
	leadAmps    = windingAmps + 3
	roundAmps   = leadAmps + 3 // a third of the windings' sum
	numSignals  = roundAmps + 1
)

// signals reads everything off the stage just solved.
func (r *runner) signals(i *[3]float64) (x signals) {
	m := r.m
	for k := range m.diodes {
		if m.diodes[k].cathode == m.output {
			x[studAmps] += r.amps[k]
		}
		if m.dplus != ground && m.diodes[k].cathode == m.dplus {
			x[dplusAmps] += r.amps[k]
		}
	}
	x[studVolts], x[dplusVolts], x[starVolts] = r.v[m.output], r.at(m.dplus), r.at(m.star)
	for k := range 3 {
		x[phaseVolts+k], x[windingAmps+k], x[leadAmps+k] = r.v[m.leg[k]], i[k], i[k]
		if r.c.Winding == Delta {
			x[leadAmps+k] -= i[(k+2)%3]
		}
		x[roundAmps] += i[k] / 3
	}
	return x
}

// totals integrates signals over a period by trapezoids over every part step.
type totals struct {
	last         signals
	area, square signals
	least, most  signals
}

func (t *totals) start(x *signals) {
	*t = totals{last: *x}
	for k := range t.least {
		t.least[k], t.most[k] = math.Inf(1), math.Inf(-1)
	}
}

// add goes on by a share of the period.
func (t *totals) add(x *signals, share float64) {
	for k, v := range x {
		u := t.last[k]
		t.area[k] += share * (u + v) / 2
		t.square[k] += share * (u*u + u*v + v*v) / 3
		t.least[k], t.most[k] = min(t.least[k], v), max(t.most[k], v)
	}
	t.last = *x
}

func (r *runner) figures(k int) Figures {
	t := &r.sum
	f := Figures{Mean: t.area[k], PeakToPeak: t.most[k] - t.least[k], Least: t.least[k], Greatest: t.most[k]}
	f.ACRms = math.Sqrt(max(0, t.square[k]-f.Mean*f.Mean))
	if len(r.wave) == 1 {
		return f
	}
	wave := make([]float64, len(r.wave))
	for n := range wave {
		wave[n] = r.wave[n][k]
	}
	for n, order := range orders {
		f.Orders[n] = math.Hypot(component(wave, order))
	}
	return f
}

func (t *totals) flow(k int) Flow {
	return Flow{Mean: t.area[k], RMS: math.Sqrt(t.square[k]), Peak: max(t.most[k], -t.least[k])}
}

// summary reduces the last period.
func (r *runner) summary(periods int) *Periodic {
	p := &Periodic{
		Stud: r.figures(studAmps), StudVolts: r.figures(studVolts),
		DPlus: r.figures(dplusAmps), DPlusVolts: r.figures(dplusVolts),
		StarVolts: r.sum.area[starVolts], Periods: periods,
	}
	for k := range 3 {
		p.Windings[k], p.Leads[k] = r.sum.flow(windingAmps+k), r.sum.flow(leadAmps+k)
		p.PhaseVolts[k] = r.sum.area[phaseVolts+k]
	}
	p.Circulating = math.Sqrt(r.sum.square[roundAmps])
	if !r.c.Wave {
		return p
	}
	for n := range r.wave {
		x := &r.wave[n]
		p.Wave = append(p.Wave, Sample{
			Turn: float64(n+1) / float64(len(r.wave)), Stud: x[studAmps], StudVolts: x[studVolts],
			DPlus: x[dplusAmps], DPlusVolts: x[dplusVolts],
			PhaseVolts: [3]float64(x[phaseVolts:windingAmps]), Windings: [3]float64(x[windingAmps:leadAmps]),
		})
	}
	return p
}
