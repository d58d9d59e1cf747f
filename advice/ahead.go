package advice

import (
	"slices"

	"chargewright/diagnosis"
	"chargewright/prediction"
)

// Ahead works out what the first plan of a job rests on, before the job is opened:
// what every test reads under every cause while nothing was measured. It does so in
// parts of a tenth of a second or so, each handed to do, which may let it wait; it ends
// when do says false. The memory is of the kind of complaint and of the day, so a job
// on another day has nothing of it.
func (p *Prepared) Ahead(in Input, do func(part func()) bool) error {
	d, err := desk(in)
	if err != nil {
		return err
	}
	b, err := diagnosis.Begin(d.Prior)
	if err != nil {
		return err
	}
	asked, err := d.Board.Ask(in.Day)
	if err != nil {
		return err
	}
	var done []string
	for _, a := range asked {
		if a == nil || slices.Contains(done, a.Key) {
			continue
		}
		done = append(done, a.Key)
		if !do(func() { b.Forecast(oneSetup(asked, a.Key), certain) }) {
			break
		}
	}
	return nil
}

// certain is a share that no cause has: nothing is collected of what is learnt.
const certain = 2

// oneSetup are the questions of one setup, which share a solve; the others have nil.
func oneSetup(asked []*prediction.Asked, key string) []*prediction.Asked {
	out := make([]*prediction.Asked, len(asked))
	for i, a := range asked {
		if a != nil && a.Key == key {
			out[i] = a
		}
	}
	return out
}
