package advice

import (
	"context"
	"reflect"
	"slices"
	"sync"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
)

// Standing is a job with what is made of it, kept to be asked more of: other
// steps than the first, a free reading, what a reading changed. It does not
// change and may be used from several goroutines.
//
// Of the steps that come next only the first says what it would read; Take says it
// of any.
type Standing struct {
	*Desk
	In     Input
	Belief diagnosis.Belief
	Advice Advice

	scores  *scores                   // of the belief
	planned func() (*Standing, error) // with the steps that come next; nil when they are there
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
	for _, other := range p.desks.by { // two kinds of complaint may leave the same battery
		if d.Prior.RememberWith(&other.Prior) {
			break
		}
	}
	p.desks.by[complaint] = d
	return d, nil
}

// Stand asks for a job on a system that is prepared, and keeps what it rests on.
// Readings are taken in one by one, as they came, so that it does not matter
// when somebody looked. Problems are those of Ask.
func Stand(ctx context.Context, in Input) (*Standing, error) {
	s, err := Consider(ctx, in)
	if err != nil {
		return nil, err
	}
	return s.Planned()
}

// Consider is Stand without the steps that come next: Planned adds them.
func Consider(ctx context.Context, in Input) (*Standing, error) {
	d, err := desk(in)
	if err != nil {
		return nil, err
	}
	b, err := diagnosis.Begin(d.Prior)
	if err != nil {
		return nil, err
	}
	return d.goOn(ctx, in, b, d.lettering(&b, nil), 0, 0)
}

// goOn takes in what a belief does not know yet: readings but the first ones,
// repairs but the first ones.
func (d *Desk) goOn(ctx context.Context, in Input, b diagnosis.Belief, letters map[string]string, readings, repairs int) (*Standing, error) {
	var err error
	for epoch := repairs; epoch <= len(in.Repairs); epoch++ {
		for i := readings; i < len(in.Readings); i++ {
			if in.Readings[i].Epoch != epoch {
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
	d, err := in.Prepared.Shared(in.Complaint)
	if err != nil {
		return nil, err
	}
	return d.Hearing(in.Told)
}

// stand describes a belief. The desk is the job's own from here on: it knows the
// job's letters.
func (d *Desk) stand(in Input, b diagnosis.Belief, letters map[string]string) (*Standing, error) {
	own := *d
	own.letterOf, own.foresight = letters, &foresight{by: map[foreseenAt]*foreseen{}}
	return own.described(in, b, &scores{})
}

// described describes a belief at the job's own desk.
func (d *Desk) described(in Input, b diagnosis.Belief, scores *scores) (*Standing, error) {
	a, err := d.describe(in, b)
	if err != nil {
		return nil, err
	}
	s := &Standing{Desk: d, In: in, Belief: b, Advice: a, scores: scores}
	s.planned = sync.OnceValues(s.plan)
	return s, nil
}

// Planned is the same with the steps that come next. It is worked out once, however
// many ask; who asks later waits.
func (s *Standing) Planned() (*Standing, error) {
	if s.planned == nil {
		return s, nil
	}
	return s.planned()
}

// plan is Planned, worked out.
func (s *Standing) plan() (*Standing, error) {
	out := *s
	out.planned = nil
	state := s.State(s.In, s.Belief)
	known, err := s.scores.of(s.Planner, state)
	if err != nil {
		return nil, err
	}
	if err := s.describeNext(&out.Advice, s.In, &s.Belief, s.Planner.Rank(state, known), false); err != nil {
		return nil, err
	}
	return &out, nil
}

// scores are what every test would say of one belief, once somebody wants to know:
// the same however the vehicle stands.
type scores struct {
	mu    sync.Mutex
	known *planning.Scores
}

// serve says whether they are known, and not just being worked out.
func (x *scores) serve(state planning.State) bool {
	if !x.mu.TryLock() {
		return false
	}
	defer x.mu.Unlock()
	return x.known != nil && x.known.Serve(state)
}

func (x *scores) of(p *planning.Planner, state planning.State) (*planning.Scores, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.known != nil && x.known.Serve(state) {
		return x.known, nil
	}
	known, err := p.Score(state)
	if err != nil {
		return nil, err
	}
	x.known = known
	return known, nil
}

// Then is the same job later. Where only readings and repairs were added or the
// hook-up was changed, it goes on from what is known: the same answer as Stand, and
// quicker.
func (s *Standing) Then(ctx context.Context, in Input) (*Standing, error) {
	out, err := s.Consider(ctx, in)
	if err != nil {
		return nil, err
	}
	return out.Planned()
}

// Consider is Then without the steps that come next: Planned adds them.
func (s *Standing) Consider(ctx context.Context, in Input) (*Standing, error) {
	switch {
	case reflect.DeepEqual(in, s.In):
		return s, nil
	case !s.beginsWith(in):
		return Consider(ctx, in)
	case s.learnsNothing(in):
		return s.Desk.described(in, s.Belief, s.scores)
	}
	return s.Desk.goOn(ctx, in, s.Belief, s.letterOf, len(s.In.Readings), len(s.In.Repairs))
}

// learnsNothing says whether a job that begins with this one has neither readings nor
// repairs more, on the same day: its belief is this one's.
func (s *Standing) learnsNothing(in Input) bool {
	return len(in.Readings) == len(s.In.Readings) && len(in.Repairs) == len(s.In.Repairs) && reflect.DeepEqual(in.Day, s.In.Day)
}

// Quick says whether Consider of a job takes no time to speak of: nothing was learnt.
func (s *Standing) Quick(in Input) bool { return s.beginsWith(in) && s.learnsNothing(in) }

// Ranked says whether Planned takes no time to speak of: what every test would say is
// known already.
func (s *Standing) Ranked() bool {
	if s.planned == nil {
		return true
	}
	return s.scores.serve(s.State(s.In, s.Belief))
}

// beginsWith says whether a job is this one with more behind it. Readings that were
// added were taken after the repairs that are known.
func (s *Standing) beginsWith(in Input) bool {
	n, m := len(s.In.Readings), len(s.In.Repairs)
	return in.Complaint == s.In.Complaint && reflect.DeepEqual(in.Told, s.In.Told) && in.Prepared == s.In.Prepared && in.Vehicle == s.In.Vehicle && len(in.Readings) >= n && len(in.Repairs) >= m &&
		slices.Equal(in.Repairs[:m], s.In.Repairs) && reflect.DeepEqual(in.Readings[:n:n], s.In.Readings[:n:n]) &&
		!slices.ContainsFunc(in.Readings[:n], func(r question.Reading) bool { return r.Epoch > m }) &&
		!slices.ContainsFunc(in.Readings[n:], func(r question.Reading) bool { return r.Epoch < m })
}
