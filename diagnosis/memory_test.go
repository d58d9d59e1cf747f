package diagnosis

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"chargewright/prediction"
)

// asks compiles some procedures at a temperature of the air [K]; 0 is the day's own.
func asks(t *testing.T, kelvin float64, procs ...string) (out []*prediction.Asked) {
	t.Helper()
	c := car(t)
	for _, id := range procs {
		q, err := c.Question(id)
		if err != nil {
			t.Fatal(err)
		}
		if kelvin > 0 {
			q.Setup.Ambient.K = kelvin
		}
		a, err := c.Model.Ask(q)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, &a)
	}
	return out
}

// TestRememberedIsForecast: what a memory gives back is what each fit forecasts when it
// is asked by itself, values, spread and derivatives, whoever shares the memory and
// whatever was learnt with it.
func TestRememberedIsForecast(t *testing.T) {
	one := prior(car(t), few...)
	one.Remember()
	other := prior(car(t), few...)
	other.NoFault *= 3
	for f := range other.Rates {
		other.Rates[f] *= 0.5
	}
	if !other.RememberWith(&one) {
		t.Fatal("likelier faults make it another memory")
	}
	begin(t, one).learnAll(asks(t, 0, "charge-volts", "battery-rest-volts", "drop-feed"))
	asked := asks(t, 0, "drop-feed", "charge-volts", "drop-feed")
	b := begin(t, other)
	got := b.Forecast(asked, 0)
	f := newFitter(&b)
	defer f.done()
	f.keeps = true
	rows := 0
	for q := range asked {
		n := 0
		for h := range b.Hyps {
			as := h
			if b.Hyps[h].Intermittent {
				as = 0 // shows nothing now
			}
			f.h = &b.Hyps[as]
			for k := range f.h.Fits {
				if want := f.forecast(as, k, asked[q:q+1])[0]; want != nil {
					want.Weight *= b.post[h] / b.post[as]
					remembers(t, f, asked[q], got[q][n], want, h)
					rows += len(want.Mean)
					n++
				}
			}
		}
		if n != len(got[q]) {
			t.Errorf("question %d: %d forecasts are remembered, %d are made", q, len(got[q]), n)
		}
	}
	if kept := len(b.prior.memory.get(asked[0]).rows.from); kept >= rows {
		t.Errorf("%d rows are kept of %d: none of them is shared", kept, rows)
	}
}

// remembers compares what is remembered of one fit with what is forecast.
// A weight is the same product in another order: its last digits may differ.
func remembers(t *testing.T, f *fitter, asked *prediction.Asked, have Joint, want *Joint, h int) {
	t.Helper()
	if have.Hyp != h || have.Fit != want.Fit || !slices.Equal(have.Mean, want.Mean) || !slices.Equal(have.Cov, want.Cov) || math.Abs(have.Weight-want.Weight) > 1e-12*want.Weight {
		t.Fatalf("hypothesis %d, fit %d: remembered %+v, forecast %+v", h, want.Fit, have, want)
	}
	r, at := f.bel.prior.rememberedOf(asked, h, want.Fit)
	into := make([]float64, f.dims)
	for v := range want.Mean {
		clear(into)
		r.rows.read(r.row[at*r.values+v], into)
		for c, x := range into {
			if float32(x) != want.rows[v*f.dims+c] {
				t.Fatalf("hypothesis %d: derivative %d of value %d is remembered as %g, was %g", h, c, v, x, want.rows[v*f.dims+c])
			}
		}
	}
}

func (b Belief) learnAll(asked []*prediction.Asked) { b.prior.learn(asked) }

// TestAnotherMemory: what predicts otherwise does not share a memory.
func TestAnotherMemory(t *testing.T) {
	one := prior(car(t), few...)
	one.Remember()
	fewerFaults, otherSettings, forgetful := prior(car(t), fewer...), prior(car(t), few...), prior(car(t), few...)
	otherSettings.Settings.Components++
	for what, other := range map[string]Prior{"fewer faults": fewerFaults, "other settings": otherSettings} {
		if other.RememberWith(&one) {
			t.Errorf("%s: shares the memory", what)
		}
	}
	if one.RememberWith(&forgetful) || one.memory == nil {
		t.Error("a memory was given up for none")
	}
}

// TestMemoryIsBounded: what was asked for longest ago is forgotten first, and learnt
// again when it is asked once more.
func TestMemoryIsBounded(t *testing.T) {
	m := newMemory()
	for i := range mostRemembered + 3 {
		m.last++
		m.by[fmt.Sprint(i)] = &recollection{used: m.last}
	}
	m.last++
	m.by["0"].used = m.last
	m.forget()
	if len(m.by) != mostRemembered || m.by["0"] == nil || m.by["3"] != nil || m.by["4"] == nil {
		t.Errorf("%d questions are remembered, want %d without the three that were asked for longest ago", len(m.by), mostRemembered)
	}
	pr := prior(car(t), "clamp-negative")
	pr.Remember()
	b := begin(t, pr)
	first := b.Forecast(asks(t, 290, "charge-volts"), 0)
	pr.memory.by = map[string]*recollection{}
	again := b.Forecast(asks(t, 290, "charge-volts"), 0)
	if len(first[0]) == 0 || fmt.Sprint(first) != fmt.Sprint(again) {
		t.Error("what was forgotten is learnt otherwise again")
	}
}
