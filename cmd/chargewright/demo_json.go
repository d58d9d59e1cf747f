package main

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"

	"chargewright/job"
	"chargewright/question"
	"chargewright/rig"
)

// demoJSON is what demo --json prints. Events are those of a job, with their
// bodies as they are.
type demoJSON struct {
	Format   int         `json:"format"`
	Invented bool        `json:"invented"`
	Seed     uint64      `json:"seed"`
	System   string      `json:"system"`
	Hidden   []string    `json:"hidden"` // what was really wrong
	Events   []demoEvent `json:"events"`
	Outcome  demoOutcome `json:"outcome"`
	Others   []demoOther `json:"others"`
}

type demoEvent struct {
	ID   string          `json:"id"`
	Seq  int             `json:"seq"`
	Kind job.Kind        `json:"kind"`
	V    int             `json:"v"`
	Body json.RawMessage `json:"body"`
}

type demoOutcome struct {
	Minutes float64 `json:"minutes"`
	Money   float64 `json:"money"`
	Moves   int     `json:"hookup_moves"`
	Tests   int     `json:"readings"`
	Repairs int     `json:"repairs"`
	Wrong   int     `json:"wrong_repairs"`
	Cured   bool    `json:"cured"`
	Sound   float64 `json:"nothing_left"`
}

type demoOther struct {
	Order string `json:"order"`
	demoOutcome
}

func (p *played) outcome() demoOutcome {
	return demoOutcome{p.minutes, p.money, p.moves, p.tests, p.repairs, p.wrong, p.cured, p.sound}
}

func (d *demonstration) json(w io.Writer) error {
	out := demoJSON{Format: outputFormat, Invented: true, Seed: d.seed, System: d.desk.System.ID, Hidden: append([]string{}, d.hidden.faults...), Outcome: d.ours.outcome(), Others: []demoOther{}}
	events, err := d.events()
	if err != nil {
		return err
	}
	for _, e := range events {
		out.Events = append(out.Events, demoEvent{e.ID, e.Seq, e.Kind, e.V, e.Body})
	}
	for _, o := range d.others {
		out.Others = append(out.Others, demoOther{o.id, o.played.outcome()})
	}
	return printJSON(w, out)
}

// events is the job as the log would hold it.
func (d *demonstration) events() ([]job.Event, error) {
	var list []job.Event
	add := func(kind job.Kind, body any) error {
		data, err := json.Marshal(body)
		if err != nil {
			return fmt.Errorf("event %d cannot be written: %w", len(list)+1, err)
		}
		n := len(list) + 1
		list = append(list, job.Event{ID: fmt.Sprintf("e%d", n), Seq: n, Kind: kind, V: 1, Body: data})
		return nil
	}
	air := d.hidden.day.Ambient.K
	meters := []string{}
	if len(d.ours.steps) > 0 {
		meters = d.ours.steps[0].in.Meters
	}
	err := add(job.Opened, job.OpenedBody{
		Job: fmt.Sprintf("demo-%d", d.seed), System: d.desk.System.ID, SHA256: hex.EncodeToString(d.desk.System.SHA256[:]),
		Vehicle:    job.Vehicle{Volts: d.desk.System.Volts, Note: "invented"},
		Complaint:  &job.Complaint{Kind: d.hidden.complaint},
		Conditions: &job.Conditions{Ambient: &air}, Meters: meters,
	})
	for _, s := range slices.Concat(d.ours.steps, d.ours.proof) {
		switch {
		case err != nil:
			return nil, err
		case s.reading != nil:
			err = add(job.Took, d.reading(s.reading))
		case s.step.Repair != "":
			err = d.repairEvents(s, add)
		}
	}
	return list, err
}

func (d *demonstration) reading(r *question.Reading) job.ReadingBody {
	b := job.ReadingBody{ID: r.ID, Procedure: r.Question.Procedure, Rig: d.named(r.Question.Setup.Rig), Basis: r.Basis}
	for _, v := range r.Values {
		b.Values = append(b.Values, job.ValueBody{How: string(v.How), X: v.X, Lo: v.Lo, Hi: v.Hi, Class: v.Class})
	}
	return b
}

// repairEvents are a repair's parts and the hook-up that they left.
func (d *demonstration) repairEvents(s playedStep, add func(job.Kind, any) error) error {
	before := len(s.in.Repairs)
	cured := "no"
	if s.cures {
		cured = "yes"
	}
	for i, class := range splitRepair(s.step.Repair) {
		b := job.RepairBody{ID: fmt.Sprintf("repair-%d", before+i+1), Repair: class, Cured: cured}
		if err := add(job.Repaired, b); err != nil {
			return err
		}
	}
	return add(job.FoundRig, job.RigBody{Rig: d.named(s.from)})
}

// named is a hook-up by ids, every place, so that a log stands by itself.
func (d *demonstration) named(s rig.State) map[string]string {
	out := map[string]string{}
	for i, p := range d.desk.System.Rig.Places {
		out[p.ID] = p.Positions[s.At(i)].ID
	}
	return maps.Clone(out)
}
