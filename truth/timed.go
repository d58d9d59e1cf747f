package truth

import (
	"math"

	"chargewright/prediction"
	"chargewright/question"
)

// Timed is a hidden vehicle whose machine is solved in the time domain at every
// operating point; the rest is the product's own model. What the tables leave out
// by interpolation it does not.
type Timed struct {
	*Table
	Solved    int // answers with the machine in the time domain
	Unsettled int // answers of the tables: the two did not come to one point
}

// Timed returns the vehicle with its machine in the time domain.
func (v Vehicle) Timed(m *prediction.Model, l Looks) *Timed {
	return &Timed{Table: v.Table(m, l)}
}

// The search for the point at which the network and the machine in the time domain
// agree ends at what no meter of the library shows.
const (
	timedRounds = 12
	timedAmps   = 2e-3 // [A]
	timedVolts  = 2e-3 // of D+ [V]
)

// Answer implements Answerer.
func (t *Timed) Answer(q question.Question) ([]question.Value, error) {
	t.worker.Beside()
	vals, err := t.Table.Answer(q)
	if err != nil || !measures(q) {
		return vals, err
	}
	timed, ok := t.inTime(q, vals)
	if !ok {
		t.Unsettled++
		return vals, nil
	}
	return timed, nil
}

// inTime goes on from the tables' answer until network and machine agree. False where
// they do not, or the time domain has no solution: the tables' answer stands then.
func (t *Timed) inTime(q question.Question, vals []question.Value) ([]question.Value, bool) {
	var last []prediction.Beside
	for range timedRounds {
		now, delivers, err := t.worker.Timed()
		if err != nil {
			return nil, false
		}
		if !delivers || settled(now, last) {
			if delivers {
				t.Solved++
			}
			return vals, true
		}
		t.worker.Beside(now...)
		last = now
		if vals, err = t.Table.Answer(q); err != nil {
			return nil, false
		}
	}
	return nil, false
}

// settled says whether two rounds put the same beside the tables.
func settled(now, last []prediction.Beside) bool {
	for i, b := range now {
		if i >= len(last) || math.Abs(b.Amps-last[i].Amps) >= timedAmps || math.Abs(b.DPlusVolts-last[i].DPlusVolts) >= timedVolts {
			return false
		}
	}
	return true
}

// measures says whether something of a question hangs on the operating point.
func measures(q question.Question) bool {
	for _, o := range q.Seek {
		if o.Kind == question.Volts || o.Kind == question.Amps || o.Kind == question.ACVolts {
			return true
		}
	}
	return false
}
