package advice

import (
	"context"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"

	"chargewright/diagnosis"
	"chargewright/meter"
	"chargewright/planning"
	"chargewright/question"
	"chargewright/system"
)

// Ask is the one call. The error is a *Refusal when the vehicle is none for the
// system; otherwise it says which reading cannot be understood.
func Ask(ctx context.Context, in Input) (Advice, error) {
	if in.Settings == (Settings{}) {
		in.Settings = DefaultSettings()
	}
	if in.Prepared == nil {
		p, err := Prepare(in.System, in.Practice, in.Catalogue, in.Settings)
		if err != nil {
			return Advice{}, err
		}
		in.Prepared = p
	}
	if err := refuse(in.Prepared.System, in.Vehicle); err != nil {
		return Advice{}, err
	}
	d, err := in.Prepared.Shared(in.Complaint)
	if err != nil {
		return Advice{}, err
	}
	if d, err = d.Hearing(in.Told); err != nil {
		return Advice{}, err
	}
	b, err := d.Infer(ctx, in.Readings, in.Repairs)
	if err != nil {
		return Advice{}, err
	}
	return d.Describe(in, b)
}

// Infer is the belief after all readings and repairs, epoch by epoch.
func (d *Desk) Infer(ctx context.Context, readings []question.Reading, repairs []Repair) (diagnosis.Belief, error) {
	b, err := diagnosis.Begin(d.Prior)
	if err != nil {
		return b, err
	}
	for epoch := 0; epoch <= len(repairs); epoch++ {
		var now []question.Reading
		for _, r := range readings {
			if r.Epoch == epoch {
				now = append(now, r)
			}
		}
		if len(now) > 0 {
			if b, err = b.WithAll(ctx, now); err != nil {
				return b, err
			}
		}
		if epoch < len(repairs) {
			if b, err = b.Repair(ctx, d.repaired(repairs[epoch])); err != nil {
				return b, err
			}
		}
	}
	return b, nil
}

// repaired is a repair as evidence. One that names no repair of the practice
// figures says nothing about which fault there was.
func (d *Desk) repaired(r Repair) diagnosis.Repaired {
	if _, ok := d.Practice.Repairs[r.Repair]; !ok {
		return diagnosis.Repaired{Class: "", Cured: diagnosis.Unknown}
	}
	return diagnosis.Repaired{Class: r.Repair, Cured: r.Cured}
}

// State is where a job stands for the planner.
func (d *Desk) State(in Input, b diagnosis.Belief) planning.State {
	s := planning.State{
		Belief: b, Rig: in.Rig, Setup: in.Day, Done: map[string]int{}, Barred: d.Barred(in.Meters, in.CouldNot),
	}
	for _, r := range in.Readings {
		if r.Epoch == len(in.Repairs) && r.Question.Procedure != "" {
			s.Done[r.Question.Procedure]++
		}
		if r.Question.Setup.Rig != d.System.Rig.Rest {
			s.Moved = true
		}
	}
	low, _ := d.restsLow(in.Readings, len(in.Repairs))
	hurt := hurtBattery(in)
	for _, p := range d.Board.Procs {
		if low && slices.Contains(p.Cautions, cautionFlat) || hurt && d.draws(p) {
			s.Barred[p.ID] = true
		}
	}
	return s
}

// hurtBattery reports that the battery was seen in a state in which a load
// tester is not put on it. Source: docs/models/safety.md R27.
func hurtBattery(in Input) bool {
	hurt := false
	for _, r := range in.Readings {
		if r.Epoch != len(in.Repairs) {
			continue
		}
		for _, v := range r.Values {
			for _, w := range []string{"swollen", "cracked", "frozen", "leak", "boiled"} {
				hurt = hurt || strings.Contains(v.Class, w)
			}
		}
	}
	return hurt
}

// draws reports that a procedure puts the load tester on the battery.
func (d *Desk) draws(p *question.Procedure) bool {
	for _, want := range p.Rig {
		for _, place := range d.System.Rig.Places {
			if place.ID == want.Place && place.Role == "load-bank" {
				return true
			}
		}
	}
	return false
}

// Barred lists the procedures that cannot be done: those that could not, those
// whose meter is not to hand, and those that open a line for an ammeter in
// series although a clamp meter for it is there.
func (d *Desk) Barred(meters []string, couldNot map[string]string) map[string]bool {
	if len(meters) == 0 {
		for _, in := range meter.Catalogue() {
			meters = append(meters, in.ID)
		}
	}
	out := map[string]bool{}
	for id := range couldNot {
		out[id] = true
	}
	for _, p := range d.Board.Procs {
		for _, o := range p.Measure {
			in, known := d.meters[o.Meter]
			switch {
			case o.Optional:
			case !slices.Contains(meters, o.Meter):
				out[p.ID] = true
			case known && in.SeriesOhms > 0 && d.clampFor(o, meters):
				out[p.ID] = true
			}
		}
	}
	return out
}

// clampFor reports whether another procedure reads the same branch with a meter
// to hand that opens nothing.
func (d *Desk) clampFor(o question.Observable, meters []string) bool {
	for _, p := range d.Board.Procs {
		for _, x := range p.Measure {
			if x.Kind == o.Kind && x.Through == o.Through && d.meters[x.Meter].SeriesOhms == 0 && slices.Contains(meters, x.Meter) {
				return true
			}
		}
	}
	return false
}

// Describe puts a belief into words and numbers, and asks the planner what next.
func (d *Desk) Describe(in Input, b diagnosis.Belief) (Advice, error) {
	a, err := d.describe(in, b)
	if err != nil {
		return a, err
	}
	plan, err := d.Planner.Next(d.State(in, b))
	if err != nil {
		return a, err
	}
	return a, d.describeNext(&a, in, &b, plan, true)
}

// describe is Describe but for what comes next.
func (d *Desk) describe(in Input, b diagnosis.Belief) (Advice, error) {
	sys := d.System
	a := Advice{
		Format: Format, Job: in.Job, System: Named{sys.ID, sys.Name}, SystemHash: hex.EncodeToString(sys.SHA256[:]),
		Practice: hex.EncodeToString(d.Practice.SHA256[:]), Assumed: append([]string{}, in.Assumed...),
		NoFault: b.Sound(), NoneOfThese: b.None(), Surprise: b.Surprise(), Repairs: []Done{}, Rig: d.standing(in),
	}
	if c, ok := d.heard.soc[d.Complaint]; ok {
		a.Complaint = &Complaint{d.Complaint, c.soc, string(c.basis)}
	}
	if len(in.Meters) == 0 {
		a.Assumed = append(a.Assumed, "no meters were named: every kind of meter is taken to be to hand")
	}
	a.Assumed = append(a.Assumed, undoubted(b.Values())...)
	for _, r := range in.Repairs {
		done := Done{ID: r.ID, Repair: r.Repair, Name: d.repairName(r.Repair), Cured: string(r.Cured), Back: r.Back}
		if done.Name == "" {
			done.Name = r.What
			a.Assumed = append(a.Assumed, fmt.Sprintf("%s: what was done is none of the repairs that are known, so the odds stay as they were", r.ID))
		}
		a.Repairs = append(a.Repairs, done)
	}
	d.describeSuspects(&a, &b)
	d.describeTold(&a)
	if err := d.describeReadings(&a, in, &b); err != nil {
		return a, err
	}
	d.describeParameters(&a, &b)
	return a, nil
}

// standing lists the places that are not at rest.
func (d *Desk) standing(in Input) []At {
	out := []At{}
	for i := range d.System.Rig.Places {
		if k := in.Rig.At(i); k != d.System.Rig.Rest.At(i) {
			out = append(out, at(d.System, i, k))
		}
	}
	return out
}

func at(sys *system.System, place, position int) At {
	p := sys.Rig.Places[place]
	q := p.Positions[position]
	return At{p.ID, q.ID, p.Name + ": " + q.Name, spoken(p.Name, q.Name)}
}

// spoken leaves out the name of a place where its position begins with it:
// "ignition on", but "load tester drawing its load".
func spoken(place, position string) string {
	first, _, _ := strings.Cut(position, " ")
	own, _, _ := strings.Cut(strings.TrimRight(place, ","), " ")
	if strings.Contains(first, strings.TrimSuffix(strings.TrimRight(own, ","), "s")) {
		return position
	}
	return place + " " + position
}

// repairName puts a repair class into words; "" for one that is not known.
func (d *Desk) repairName(class string) string {
	var names []string
	for _, r := range strings.Split(class, "+") {
		if n := d.Practice.Repairs[r].Name; n != "" {
			names = append(names, n)
		}
	}
	return strings.Join(names, " and ")
}

// finite keeps what JSON cannot say out of an answer.
func finite(x float64) float64 {
	const most = 1e9
	switch {
	case math.IsNaN(x):
		return 0
	case x > most:
		return most
	case x < -most:
		return -most
	}
	return x
}
