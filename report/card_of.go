package report

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"chargewright/advice"
	"chargewright/drawing"
	"chargewright/job"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// stage is a job as it stands, or as it might.
type stage struct {
	moment
	events []job.Event
}

// CardOf makes the job card of a case.
func CardOf(ctx context.Context, c Case) (Card, error) {
	d, err := c.open(ctx)
	if err != nil {
		return Card{}, err
	}
	a, j := d.s.Advice, d.j
	k := Card{
		Format: CardFormat, Job: j.ID, System: a.System, SystemSHA: a.SystemHash, Practice: a.Practice, Engine: c.Engine, EventsSHA: EventsSHA(c.Events),
		Vehicle: Vehicle{exact(j.Vehicle.Volts), j.Vehicle.Note}, Conditions: conditions(j), Assumed: a.Assumed, Stands: a.Rig, Against: d.s.Against(),
		Complaint: Complaint{j.Complaint.Kind, j.Complaint.Words, j.Complaint.When, j.Complaint.Before, j.Complaint.Noticed, j.Complaint.Use},
		Causes:    []CardCause{}, Steps: []CardStep{}, sys: j.System,
	}
	if k.Against == nil {
		k.Against = []string{}
	}
	for _, p := range d.s.Portions() {
		k.Causes = append(k.Causes, CardCause{p.Letter, p.Name, share(p.Share)})
	}
	ways, err := d.route(ctx, stage{moment{j, d.s}, d.events})
	if err != nil {
		return Card{}, err
	}
	for i, w := range ways {
		step, err := d.cardStep(w)
		if err != nil {
			return Card{}, fmt.Errorf("step %d: %w", i+1, err)
		}
		step.N = i + 1
		k.Steps = append(k.Steps, step)
	}
	return k, nil
}

// way is a step with where it would be taken and what leads there.
type way struct {
	at    stage
	step  advice.Step
	when  []string
	share float64
	first []string // to be seen before it
}

// follows is how many steps stand on a card behind the next one.
const follows = 3

// route is the next step and those that are likely to follow it.
func (d *desk) route(ctx context.Context, at stage) ([]way, error) {
	if len(at.s.Advice.Next) == 0 {
		return nil, nil
	}
	first := way{at: at, step: at.s.Advice.Next[0]}
	switch {
	case first.step.Do == "no-fault":
		if list, err := d.prove(ctx, at, follows+1); err != nil || len(list) > 0 {
			return list, err
		}
		return []way{first}, nil
	case first.step.Body.Procedure != "":
		list, err := d.outcomes(ctx, first)
		return append([]way{first}, list...), err
	case first.step.Do == "repair":
		after, err := d.mended(ctx, first)
		if err != nil {
			return nil, err
		}
		list, err := d.prove(ctx, after, follows)
		return append([]way{first}, list...), err
	}
	out := []way{first}
	for _, s := range at.s.Advice.Next[1:] {
		if len(out) > follows || s.Body.Procedure == "" {
			continue
		}
		whole, err := at.s.Take(s.Body.Procedure)
		if err != nil {
			return nil, err
		}
		out = append(out, way{at: at, step: whole, when: []string{"instead"}})
	}
	return out, nil
}

// then is the job after one more event that nobody has recorded.
func (d *desk) then(ctx context.Context, at stage, kind job.Kind, body any) (stage, error) {
	next, err := d.with(at, kind, body)
	if err != nil {
		return next, err
	}
	next.s, err = at.s.Then(ctx, d.input(next.j))
	return next, err
}

// with is the same without asking what to make of it.
func (d *desk) with(at stage, kind job.Kind, body any) (stage, error) {
	b, err := json.Marshal(body)
	if err != nil {
		return at, err
	}
	n := len(at.events) + 1
	next := stage{events: append(at.events[:n-1:n-1], job.Event{ID: fmt.Sprintf("card %d", n), Seq: n, Kind: kind, V: 1, Body: b})}
	next.j, err = job.Fold(next.events, d.Shelf)
	return next, err
}

// reading is a made-up reading of a procedure; without values nothing was taken.
func (d *desk) reading(at stage, procedure string, values []job.ValueBody) job.ReadingBody {
	p := d.Shelf.Catalogue[procedure]
	for len(values) < len(p.Seek()) {
		values = append(values, job.ValueBody{How: string(question.NotTaken)})
	}
	return job.ReadingBody{ID: fmt.Sprintf("card %d", len(at.events)+1), Procedure: procedure, Values: values}
}

// mended is the job after a repair that helped, the vehicle left as the repair
// leaves it.
func (d *desk) mended(ctx context.Context, first way) (stage, error) {
	at, err := d.with(first.at, job.FoundRig, job.RigBody{Rig: first.step.ToRig})
	if err != nil {
		return at, err
	}
	at.s = first.at.s
	all := strings.Split(first.step.Body.Repair, "+")
	for i, one := range all {
		b := job.RepairBody{ID: fmt.Sprintf("card %d", len(at.events)), Repair: one, Cured: "unknown"}
		if i == len(all)-1 {
			b.Cured = "yes"
		}
		if at, err = d.then(ctx, at, job.Repaired, b); err != nil {
			return at, err
		}
	}
	return at, nil
}

// putBack is what must be seen before a proof. Source: docs/models/safety.md R42.
var putBack = []string{"covers, plugs, straps and guards that were taken off: back on, earth cable last", "jumpers, bypass leads and tools: clear of belt and fan"}

// prove are the readings of the proof that are not taken yet, each from the
// hook-up of the one before.
func (d *desk) prove(ctx context.Context, at stage, most int) ([]way, error) {
	var out []way
	for _, p := range at.s.Proof() {
		var first []string
		if len(out) == 0 {
			first = putBack
		}
		if p.After != nil || len(out) == most {
			continue
		}
		step, err := at.s.Take(p.Procedure)
		if err != nil {
			continue // no way leads there; the others still prove something
		}
		out = append(out, way{at: at, step: step, when: []string{"to prove it"}, first: first})
		if at, err = d.then(ctx, at, job.Took, d.reading(at, p.Procedure, nil)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// stateOf is where the places stand.
func stateOf(sys *system.System, places map[string]string) rig.State {
	state := sys.Rig.Rest
	for i, p := range sys.Rig.Places {
		if k := slices.IndexFunc(p.Positions, func(q rig.Position) bool { return q.ID == places[p.ID] }); k >= 0 {
			state = state.With(i, k)
		}
	}
	return state
}

// pictureOf is what is drawn of a step: the vehicle hooked up with the leads on,
// and where the likely causes sit. A look and a repair have a picture when a
// cause sits somewhere.
func (d *desk) pictureOf(w way) *drawing.Options {
	o := drawing.Options{Rig: stateOf(d.j.System, w.step.ToRig)}
	p := d.Shelf.Catalogue[w.step.Body.Procedure]
	if p != nil && p.Where == "vehicle" {
		o = drawing.ForProcedure(d.j.System, p, o.Rig, 0)
	}
	if p != nil && p.Where != "vehicle" {
		return nil
	}
	o.Causes = lettered(w.at.s.Portions())
	if len(o.Leads)+len(o.Clamps)+len(o.Causes) == 0 {
		return nil
	}
	return &o
}

// lettered are the likely causes with their letters, each where it sits; two
// faults together have the letters of both.
func lettered(list []advice.Portion) []drawing.Cause {
	var out []drawing.Cause
	put := func(letter, fault string) {
		k := slices.IndexFunc(out, func(c drawing.Cause) bool { return c.Letter == letter })
		if k < 0 {
			k = len(out)
			out = append(out, drawing.Cause{Letter: letter})
		}
		if !slices.Contains(out[k].Faults, fault) {
			out[k].Faults = append(out[k].Faults, fault)
		}
	}
	for _, p := range list {
		letters := strings.Split(p.Letter, "+")
		for _, f := range p.Faults {
			faults := strings.Split(f, "+")
			for i, one := range faults {
				switch {
				case p.Letter == "":
				case len(letters) == len(faults):
					put(letters[i], one)
				default:
					put(p.Letter, one)
				}
			}
		}
	}
	return out
}
