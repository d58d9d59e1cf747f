package diagnosis

import (
	"cmp"
	"math"
	"slices"

	"chargewright/prediction"
	"chargewright/question"
)

// evaluate predicts every datum from index from on at z. Data of one setup share
// a solve. With a limit it ends where the objective has passed that.
func (f *fitter) evaluate(comp prediction.Component, z []float64, data []datum, from int) error {
	f.grow(len(data))
	if from < len(data) {
		f.work.Evaluations++
	}
	phi := dot(z, z) / 2
	for rest := f.order(data); len(rest) > 0; {
		if rest = f.samePlace(data, rest, from); len(f.part) == 0 {
			continue // all known
		}
		if phi >= f.limit.phi {
			return errNoBetter
		}
		if err := f.evaluateAt(comp, z, data); err != nil {
			return err
		}
		for _, i := range f.part {
			if math.IsNaN(f.h0[i]) || math.IsInf(f.h0[i], 0) {
				return errNotFinite
			}
			if !f.limit.bad.has(i) {
				r := residual(&data[i], f.h0[i])
				phi += r * r / 2
			}
		}
	}
	return nil
}

// samePlace takes the data of the first operating point off a list, those from index from
// on into part, and returns what is left.
func (f *fitter) samePlace(data []datum, list []int, from int) (rest []int) {
	f.part = f.part[:0]
	at := f.placeOf(&data[list[0]])
	for n, i := range list {
		if f.placeOf(&data[i]) != at {
			return list[n:]
		}
		if i >= from {
			f.part = append(f.part, i)
		}
	}
	return nil
}

// evaluateAt predicts the data of part, which are of one operating point.
func (f *fitter) evaluateAt(comp prediction.Component, z []float64, data []datum) error {
	d := &data[f.part[0]]
	a := &f.bel.asked[d.asked]
	f.reads = f.reads[:0]
	for _, i := range f.part {
		own := &f.bel.asked[data[i].asked]
		if a.Dead() {
			a = own // one that is live serves those that are not
		}
		if data[i].probe != wakeProbe {
			f.reads = append(f.reads, value{&own.Probes[data[i].probe], data[i].reading, f.rows[i], &f.h0[i]})
		}
	}
	f.w.Hold(f.bel.physical(f.h, d.showing, d.epoch), comp, z[:f.dims])
	f.work.Solves++
	if err := f.w.Solve(a); err != nil {
		return err
	}
	f.readAll(f.reads, z)
	for _, i := range f.part {
		if data[i].probe == wakeProbe {
			if err := f.edge(i); err != nil {
				return err
			}
		}
	}
	return nil
}

// limit is the objective that a trial step must stay under, and what is not counted
// in it.
type limit struct {
	phi float64
	bad wrongs
}

var noLimit = limit{phi: math.Inf(1)}

// place is what two data must share to come from one operating point.
type place struct {
	key     string
	epoch   int
	showing question.Showing
}

func (f *fitter) placeOf(d *datum) place {
	return place{f.bel.asked[d.asked].Key, d.epoch, d.showing}
}

// order lists the data with those of one operating point together, the places with
// the newest first: where a trial step leaves those it need not look at the others.
func (f *fitter) order(data []datum) []int {
	if len(f.perm) == len(data) && len(data) > 0 && f.permOf == &data[0] {
		return f.perm
	}
	newest := map[place]int{}
	for i := range data {
		newest[f.placeOf(&data[i])] = i
	}
	f.perm = f.perm[:0]
	for i := range data {
		f.perm = append(f.perm, i)
	}
	slices.SortStableFunc(f.perm, func(x, y int) int {
		return cmp.Compare(newest[f.placeOf(&data[y])], newest[f.placeOf(&data[x])])
	})
	if len(data) > 0 {
		f.permOf = &data[0]
	}
	return f.perm
}

type endOf string

func (e endOf) Error() string { return "diagnosis: " + string(e) }

const (
	errNotFinite = endOf("a prediction is not a finite number")
	errNoBetter  = endOf("a trial step leads no lower")
)
