package main

import (
	"context"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/truth"
)

// hiddenCase is one vehicle of the benchmark: every policy meets the same
// vehicle and the same readings of it.
type hiddenCase struct {
	number            int // of its set
	seed              uint64
	vehicle           truth.Vehicle
	answer            truth.Answerer
	dormant           bool     // its fault does not show while it is looked for
	repairs           []string // the cures it needs, none for a sound or dormant one
	outside           bool
	solved, unsettled int  // readings of it in the time domain, and that were not
	timed             bool // its machine runs in the time domain
	fixed             bool // answers from stored runs: it cannot be mended
	cache             map[string][]question.Value
}

// outcome is what one policy made of one case.
type outcome struct {
	minutes, floor float64 // work, waiting at its weight, parts as minutes of labour
	readings       int
	moves          int  // changes of hook-up
	first          bool // the first repair (or verdict) was right
	wrongParts     int
	confident      bool // a wrong repair class passed confidentShare
	gaveUp         bool
	stated         []stated
	stopShare      float64 // share of the class acted on first
	timed          int     // readings with the machine in the time domain
	unsettled      int     // that should have been and were not
}

// stated is one probability that was shown, and whether it was true.
type stated struct {
	p     float64
	right bool
	after int // readings
}

const (
	confidentShare = 0.95
	giveUpMinutes  = 600
	maxSteps       = 60
)

// runCase plays one job with a policy.
func (w *world) runCase(c *hiddenCase, policy planning.Policy, infers bool) (outcome, error) {
	o, err := w.job(c, policy, infers)
	o.timed, o.unsettled = c.solved, c.unsettled
	return o, err
}

func (w *world) job(c *hiddenCase, policy planning.Policy, infers bool) (outcome, error) {
	var o outcome
	b, err := diagnosis.Begin(w.prior)
	if err != nil {
		return o, err
	}
	st := planning.State{Belief: b, Rig: w.sys.Rig.Rest, Done: map[string]int{}, Barred: w.barred()}
	left := map[string]bool{}
	for _, r := range c.repairs {
		left[r] = true
		rep := w.prac.Repairs[r]
		o.floor += rep.Attended + w.board.InMinutes(rep.Parts)
	}
	o.floor += w.prac.Proof.Attended
	acted := false
	for step := 0; ; step++ {
		if o.minutes > giveUpMinutes || step > maxSteps {
			o.gaveUp, o.minutes = true, giveUpMinutes
			return o, nil
		}
		s, err := policy(st)
		if err != nil {
			return o, err
		}
		if s.Procedure != nil {
			if err := w.take(c, &st, s, &o, infers); err != nil {
				return o, err
			}
			continue
		}
		done, err := w.act(c, &st, s, &o, left, &acted)
		if err != nil || done {
			return o, err
		}
	}
}

// barred are the series ammeters: a clamp is to hand.
func (w *world) barred() map[string]bool {
	out := map[string]bool{}
	for _, p := range w.board.Procs {
		for _, o := range p.Measure {
			if o.Meter == "shunt-ammeter" || o.Meter == "field-ammeter" {
				out[p.ID] = true
			}
		}
	}
	return out
}

// take does a test.
func (w *world) take(c *hiddenCase, st *planning.State, s planning.Step, o *outcome, infers bool) error {
	set := w.board.Settings
	o.minutes += w.took(s.Procedure.ID, s.Minutes+s.Rigging) + set.Waiting*s.Waiting
	o.readings++
	o.moves += len(s.Hookup)
	values, err := w.answer(c, s.Question, len(st.Belief.Repairs()), st.Done[s.Procedure.ID])
	if err != nil {
		return err
	}
	r := question.Reading{ID: fmt.Sprintf("r%d", o.readings), Question: s.Question, Values: values, Epoch: len(st.Belief.Repairs()), Basis: "simulated"}
	if !infers {
		st.Belief = st.Belief.Noted(r)
	} else if st.Belief, err = st.Belief.With(r); err != nil {
		return err
	}
	st.Rig, st.Moved = s.To, st.Moved || len(s.Hookup) > 0
	st.Done[s.Procedure.ID]++
	if infers {
		w.note(c, st, o)
	}
	if w.trace != nil {
		w.traceReading(st, s, r)
	}
	return nil
}

// note records what the program would state now.
func (w *world) note(c *hiddenCase, st *planning.State, o *outcome) {
	class, share := planning.Leading(&st.Belief)
	right := w.right(c, class)
	o.stated = append(o.stated, stated{share, right, o.readings})
	if share > confidentShare && !right && len(st.Belief.Repairs()) == 0 {
		o.confident = true
	}
}

// right reports whether a class is what the vehicle needs.
func (w *world) right(c *hiddenCase, class string) bool {
	if c.outside {
		return class == planning.BeyondClass
	}
	want := ""
	for i, r := range c.repairs {
		if i > 0 {
			want += "+"
		}
		want += r
	}
	return class == want
}

// answer reads the vehicle through the meters; a case reads the same whoever
// asks, and differently each time it is asked again, or asked after a repair.
func (w *world) answer(c *hiddenCase, q question.Question, epoch, again int) ([]question.Value, error) {
	// The reading hangs on the procedure and not on how the vehicle came to
	// be hooked up.
	key := fmt.Sprintf("%s %d %d", q.Procedure, again, epoch)
	if v, ok := c.cache[key]; ok {
		return v, nil
	}
	h := fnv.New64a()
	_, _ = h.Write([]byte(key))
	rng := rand.New(rand.NewPCG(c.seed, h.Sum64()))
	if t := drifting(c.answer); t != nil {
		t.Drift = t.Drift[:0]
		late := rand.New(rand.NewPCG(c.seed+1, h.Sum64()))
		for _, d := range w.model.Drifts() {
			from := rng
			if slices.Contains(w.model.LaterTerms(), d.Coord) {
				from = late // a seed's readings stay what they were
			}
			t.Drift = append(t.Drift, from.NormFloat64())
		}
	}
	exact, err := c.answer.Answer(q)
	if err != nil {
		return nil, err
	}
	if t, ok := c.answer.(*truth.Timed); ok {
		c.solved, c.unsettled = c.solved+t.Solved, c.unsettled+t.Unsettled
		t.Solved, t.Unsettled = 0, 0
	}
	v := w.through(q, exact, rng)
	c.cache[key] = v
	return v, nil
}

// drifting is the vehicle of the product's own model behind an answerer, on which
// things drift; nil where there is none.
func drifting(a truth.Answerer) *truth.Table {
	switch t := a.(type) {
	case *truth.Table:
		return t
	case *truth.Timed:
		return t.Table
	}
	return nil
}

// act repairs, or closes the job. It reports whether the job is over.
func (w *world) act(c *hiddenCase, st *planning.State, s planning.Step, o *outcome, left map[string]bool, acted *bool) (bool, error) {
	if !*acted {
		o.stopShare = s.Chance
	}
	first := !*acted
	*acted = true
	switch s.Do {
	case planning.Sound:
		o.minutes += w.prac.Proof.Attended
		right := len(c.repairs) == 0 && !c.outside
		if first {
			o.first = right
		}
		if !right {
			o.minutes = giveUpMinutes
			o.gaveUp = true
		}
		return true, nil
	case planning.Beyond:
		if first {
			o.first = c.outside
		}
		if !c.outside {
			o.minutes = giveUpMinutes
			o.gaveUp = true
		}
		return true, nil
	}
	o.minutes += s.Minutes + w.board.InMinutes(s.Money) + w.prac.Proof.Attended
	hit := false
	for _, r := range planning.SplitClass(s.Repair) {
		if left[r] {
			hit = true
			delete(left, r)
		} else {
			o.wrongParts++
		}
	}
	if first {
		o.first = hit && o.wrongParts == 0
	}
	if len(left) == 0 && hit {
		return true, nil
	}
	if len(c.repairs) == 0 && !c.outside {
		// A sound vehicle was repaired: it is as right as before.
		return true, nil
	}
	var err error
	for _, r := range planning.SplitClass(s.Repair) {
		st.Belief, err = st.Belief.Repair(context.Background(), diagnosis.Repaired{Class: r, Cured: diagnosis.No})
		if err != nil {
			return false, err
		}
	}
	clear(st.Done)
	w.mend(c, s.Repair)
	return false, nil
}

// mend takes the faults that a repair cures out of the vehicle.
func (w *world) mend(c *hiddenCase, class string) {
	done := map[string]bool{}
	for _, r := range planning.SplitClass(class) {
		done[r] = true
	}
	var rest []int
	for _, f := range c.vehicle.Fault.Faults {
		if !done[w.sys.Faults[f].Repair] {
			rest = append(rest, f)
		}
	}
	if len(rest) != len(c.vehicle.Fault.Faults) && !c.fixed {
		v := c.vehicle
		v.Fault = prediction.Hypothesis{Faults: rest}
		c.vehicle = v
		c.answer = w.vehicle(c)
		clear(c.cache)
	}
}

// traceReading prints a reading and where it left the suspects.
func (w *world) traceReading(st *planning.State, s planning.Step, r question.Reading) {
	fmt.Fprintf(w.trace, "%s %s (%.2f bits, %.1f+%.1f min):", r.ID, s.Procedure.ID, s.Bits, s.Minutes, s.Rigging)
	for _, v := range r.Values {
		fmt.Fprintf(w.trace, " %.4g%s", v.X, v.Class)
	}
	b := &st.Belief
	fmt.Fprintf(w.trace, "\n   sound %.3f sleeping %.3f none %.4f surprise %.3f wrong %.2f\n", b.Sound(), b.NotShowing(), b.None(), b.Surprise(), b.PWrong())
	for i, su := range b.Suspects(w.board.Groups) {
		if i < 5 && su.Probability > 0.01 {
			fmt.Fprintf(w.trace, "   %.3f %s -> %s\n", su.Probability, su.ID, su.Repair)
		}
	}
}
