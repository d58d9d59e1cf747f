package main

import (
	"context"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"chargewright/advice"
	"chargewright/diagnosis"
	"chargewright/meter"
	"chargewright/planning"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/truth"
)

// played is a job from complaint to proof.
type played struct {
	steps   []playedStep
	minutes float64
	money   float64
	moves   int // changes of the hook-up
	tests   int
	repairs int
	wrong   int // repairs that were not the cure
	cured   bool
	proof   []playedStep
	sound   float64 // probability that nothing on the list is left, at the end
}

// playedStep is one step with what came of it.
type playedStep struct {
	step    planning.Step
	in      advice.Input // before the step
	belief  diagnosis.Belief
	after   diagnosis.Belief
	reading *question.Reading
	cures   bool
	from    rig.State // where a repair left the hook-up
}

// longest is where a job is given up: more steps than any technician takes.
const longest = 60

// job is one being played.
type player struct {
	ctx    context.Context
	desk   *advice.Desk
	hidden *hiddenVehicle
	left   map[string]bool // repairs that the vehicle still needs
	in     advice.Input
	belief diagnosis.Belief
	asked  map[string]int
	out    *played
}

// play plays the hidden vehicle with a policy.
func play(ctx context.Context, d *advice.Desk, h *hiddenVehicle, policy planning.Policy) (*played, error) {
	p := &player{ctx: ctx, desk: d, hidden: h, left: map[string]bool{}, asked: map[string]int{}, out: &played{}}
	p.in = advice.Input{
		Prepared: d.Prepared, Complaint: h.complaint, Day: h.day, Rig: d.System.Rig.Rest, Settings: advice.DefaultSettings(),
		Meters: []string{"dmm", "dc-clamp", "ma-clamp", "hydrometer", "milliohm-meter", "tachometer"},
	}
	for _, f := range h.vehicle.Fault.Faults {
		p.left[d.System.Faults[f].Repair] = true
	}
	var err error
	if p.belief, err = diagnosis.Begin(d.Prior); err != nil {
		return nil, err
	}
	for range longest {
		s, err := policy(d.State(p.in, p.belief))
		if err != nil {
			return nil, err
		}
		switch {
		case s.Procedure != nil:
			err = p.take(s, &p.out.steps)
		case s.Do == planning.Repair:
			err = p.repair(s)
		default: // nothing wrong, or nothing on the list
			p.out.steps = append(p.out.steps, playedStep{step: s, in: p.in, belief: p.belief, after: p.belief, from: p.in.Rig})
			p.out.minutes += d.Practice.Proof.Attended
			return p.finish()
		}
		if err != nil {
			return nil, err
		}
		if p.out.cured {
			return p.finish()
		}
	}
	return p.finish()
}

func (p *player) finish() (*played, error) {
	for i := range p.belief.Hyps {
		if planning.Remaining(&p.belief, i) == "" {
			p.out.sound += p.belief.Posterior(i)
		}
	}
	return p.out, nil
}

// take does a test or a look.
func (p *player) take(s planning.Step, list *[]playedStep) error {
	values, err := p.answer(s.Question)
	if err != nil {
		return err
	}
	r := question.Reading{
		ID: fmt.Sprintf("r%d", len(p.in.Readings)+1), Question: s.Question, Values: values,
		Epoch: len(p.in.Repairs), Basis: "simulated",
	}
	after, err := p.belief.WithAll(p.ctx, []question.Reading{r})
	if err != nil {
		return err
	}
	*list = append(*list, playedStep{step: s, in: p.in, belief: p.belief, after: after, reading: &r})
	p.belief = after
	p.in.Readings = append(slices.Clone(p.in.Readings), r)
	p.in.Rig = s.To
	for _, h := range s.Hookup {
		p.in.Known |= 1 << h.Place
	}
	p.out.tests++
	p.out.moves += len(s.Hookup)
	p.out.minutes += s.Minutes + s.Rigging + s.Waiting
	return nil
}

// repair does a repair, sees whether the complaint is gone, and proves it.
func (p *player) repair(s planning.Step) error {
	park, err := p.desk.System.Rig.Park(p.in.Rig)
	if err != nil {
		return err
	}
	done := playedStep{step: s, in: p.in, belief: p.belief, from: park.Final}
	for _, class := range strings.Split(s.Repair, "+") {
		delete(p.left, class)
	}
	done.cures = len(p.left) == 0
	cured := diagnosis.No
	if done.cures {
		cured = diagnosis.Yes
	}
	p.in.Repairs = slices.Clone(p.in.Repairs)
	for _, class := range strings.Split(s.Repair, "+") {
		r := advice.Repair{ID: fmt.Sprintf("repair-%d", len(p.in.Repairs)+1), Repair: class, Cured: cured}
		p.in.Repairs = append(p.in.Repairs, r)
		if p.belief, err = p.belief.Repair(p.ctx, diagnosis.Repaired{Class: class, Cured: cured}); err != nil {
			return err
		}
	}
	done.after = p.belief
	p.in.Rig = park.Final
	p.out.steps = append(p.out.steps, done)
	p.out.repairs++
	p.out.minutes += s.Minutes + park.Minutes + p.desk.Practice.Proof.Attended
	p.out.money += s.Money
	p.out.moves += len(park.Steps)
	p.mend()
	if !done.cures {
		p.out.wrong++
		return nil
	}
	p.out.cured = true
	return p.prove()
}

// mend takes the faults that are cured out of the hidden vehicle.
func (p *player) mend() {
	h := *p.hidden
	v := h.vehicle
	v.Fault.Faults = nil
	for _, f := range h.vehicle.Fault.Faults {
		if p.left[p.desk.System.Faults[f].Repair] {
			v.Fault.Faults = append(v.Fault.Faults, f)
		}
	}
	if len(v.Fault.Faults) == 1 && len(h.vehicle.Fault.Faults) == 2 && v.Fault.Faults[0] == h.vehicle.Fault.Faults[1] {
		// The fault that is left keeps its own size.
		v.Comp.Mean[0], v.Comp.SD[0] = v.Comp.Mean[1], v.Comp.SD[1]
		n := len(p.desk.Model.Coords)
		v.Z = slices.Clone(v.Z)
		v.Z[n] = v.Z[n+1]
	}
	h.vehicle = v
	p.hidden = &h
}

// proofReadings prove a repair: idle, 1250 rpm with and without loads, both
// drops, the drain. Their time is that of the practice file's proof, counted
// with the repair for everybody. Source: common practice.
var proofReadings = []string{"idle-volts", "charge-volts", "loaded-output", "drop-feed", "drop-earth", "drain"}

func (p *player) prove() error {
	minutes, tests, moves := p.out.minutes, p.out.tests, p.out.moves
	for _, id := range proofReadings {
		proc, ok := p.desk.Board.Procedure(id)
		if !ok {
			continue
		}
		at := slices.Index(p.desk.Board.Procs, proc)
		way, err := p.desk.Board.Way(p.in.Rig, at)
		if err != nil {
			return err
		}
		s := planning.Step{Do: planning.Test, Procedure: proc, Question: p.desk.Board.Question(at, p.hidden.day), Hookup: way.Steps, To: way.Final}
		s.Question.Setup.Rig = way.Final
		if err := p.take(s, &p.out.proof); err != nil {
			return err
		}
	}
	p.out.minutes, p.out.tests, p.out.moves = minutes, tests, moves
	return nil
}

// answer is what the meters show. The chance in it hangs on the seed, the
// procedure and how often it was asked, not on who asks or when.
func (p *player) answer(q question.Question) ([]question.Value, error) {
	looks := truth.Looks{Procedures: p.desk.Catalogue, Seed: p.hidden.seed}
	values, err := p.hidden.vehicle.Table(p.desk.Model, looks).Answer(q)
	if err != nil {
		return nil, err
	}
	h := fnv.New64a()
	_, _ = h.Write([]byte(q.Procedure)) // never fails: hash.Hash says so
	rng := rand.New(rand.NewPCG(p.hidden.seed, h.Sum64()+uint64(p.asked[q.Procedure])))
	p.asked[q.Procedure]++
	for i := range values {
		if values[i].How == question.Measured {
			if values[i], err = shows(q.Seek[i], values[i].X, rng); err != nil {
				return nil, err
			}
		}
	}
	return values, nil
}

// shows is what a meter shows of a true value: its standard uncertainty as
// noise, rounded to its resolution, or that it is above its range.
func shows(o question.Observable, x float64, rng *rand.Rand) (question.Value, error) {
	in, ok := meter.Find(o.Meter)
	if !ok {
		return question.Value{}, fmt.Errorf("no meter is called %s", o.Meter)
	}
	u, _, full, err := in.Standard(string(o.Kind), x)
	if err != nil {
		for _, r := range in.Ranges {
			if r.Kind == string(o.Kind) {
				full = math.Max(full, r.Full)
			}
		}
		return question.Value{How: question.Over, Lo: full}, nil
	}
	y := x + u*rng.NormFloat64()
	if _, res, _, err := in.Standard(string(o.Kind), y); err == nil {
		y = math.Round(y/res)*res + 0 // no meter shows -0
	}
	return question.Value{How: question.Measured, X: y}, nil
}
