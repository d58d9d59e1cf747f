package advice

import (
	"context"
	"reflect"
	"sync"

	"chargewright/diagnosis"
)

// Standing is a job with what is made of it, kept to be asked more of: other
// steps than the first, a free reading, what a reading changed. It does not
// change and may be used from several goroutines.
type Standing struct {
	*Desk
	In     Input
	Belief diagnosis.Belief
	Advice Advice
}

// desks are the desks that many jobs share, by complaint.
type desks struct {
	mu sync.Mutex
	by map[string]*Desk
}

func newDesks() *desks { return &desks{by: map[string]*Desk{}} }

// Shared is the desk of a complaint, the same one for every job. It remembers
// predictions from job to job.
func (p *Prepared) Shared(complaint string) (*Desk, error) {
	p.desks.mu.Lock()
	defer p.desks.mu.Unlock()
	if d := p.desks.by[complaint]; d != nil {
		return d, nil
	}
	d, err := p.Desk(complaint)
	if err != nil {
		return nil, err
	}
	d.Prior.Remember()
	p.desks.by[complaint] = d
	return d, nil
}

// Stand asks for a job on a system that is prepared, and keeps what it rests on.
// Readings are taken in one by one, as they came, so that it does not matter
// when somebody looked. Problems are those of Ask.
func Stand(ctx context.Context, in Input) (*Standing, error) {
	d, err := desk(in)
	if err != nil {
		return nil, err
	}
	b, err := diagnosis.Begin(d.Prior)
	if err != nil {
		return nil, err
	}
	letters := d.lettering(&b, nil)
	for epoch := 0; epoch <= len(in.Repairs); epoch++ {
		for i, r := range in.Readings {
			if r.Epoch != epoch {
				continue
			}
			if b, err = b.WithAll(ctx, in.Readings[i:i+1:i+1]); err != nil {
				return nil, err
			}
			letters = d.lettering(&b, letters)
		}
		if epoch < len(in.Repairs) {
			if b, err = b.Repair(ctx, d.repaired(in.Repairs[epoch])); err != nil {
				return nil, err
			}
		}
	}
	return d.stand(in, b, letters)
}

func desk(in Input) (*Desk, error) {
	if err := refuse(in.Prepared.System, in.Vehicle); err != nil {
		return nil, err
	}
	return in.Prepared.Shared(in.Complaint)
}

// stand describes a belief. The desk is the job's own from here on: it knows the
// job's letters.
func (d *Desk) stand(in Input, b diagnosis.Belief, letters map[string]string) (*Standing, error) {
	own := *d
	own.letterOf = letters
	a, err := own.Describe(in, b)
	if err != nil {
		return nil, err
	}
	return &Standing{Desk: &own, In: in, Belief: b, Advice: a}, nil
}

// Then is the same job later. Where only readings were added or the hook-up was
// changed, it goes on from what is known: the same answer as Stand, and quicker.
func (s *Standing) Then(ctx context.Context, in Input) (*Standing, error) {
	if reflect.DeepEqual(in, s.In) {
		return s, nil
	}
	n := len(s.In.Readings)
	goesOn := in.Complaint == s.In.Complaint && in.Prepared == s.In.Prepared && reflect.DeepEqual(in.Repairs, s.In.Repairs) && len(in.Readings) >= n &&
		reflect.DeepEqual(in.Readings[:n:n], s.In.Readings[:n:n]) && in.Vehicle == s.In.Vehicle
	for _, r := range in.Readings[min(n, len(in.Readings)):] {
		goesOn = goesOn && r.Epoch == len(in.Repairs) // one from before a repair belongs before it
	}
	if !goesOn {
		return Stand(ctx, in)
	}
	b, letters := s.Belief, s.letterOf
	for i := n; i < len(in.Readings); i++ {
		var err error
		if b, err = b.WithAll(ctx, in.Readings[i:i+1:i+1]); err != nil {
			return nil, err
		}
		letters = s.lettering(&b, letters)
	}
	return s.Desk.stand(in, b, letters)
}
