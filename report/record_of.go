package report

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/question"
	"chargewright/unit"
)

// RecordOf makes the technician's record of a case. What it says of a reading is
// what could be said when it was entered, so it works the job out event by event.
func RecordOf(ctx context.Context, c Case) (Record, error) {
	d, err := c.fold()
	if err != nil {
		return Record{}, err
	}
	w := &writer{desk: d, at: map[string]int{}}
	events, err := w.entries(ctx)
	if err != nil {
		return Record{}, err
	}
	a, j := d.s.Advice, d.j
	r := Record{
		Format: RecordFormat, Job: j.ID, System: a.System, SystemSHA: a.SystemHash, Practice: a.Practice, Engine: c.Engine, EventsSHA: EventsSHA(c.Events),
		Vehicle: Vehicle{exact(j.Vehicle.Volts), j.Vehicle.Note}, Customer: j.Customer,
		Complaint:  Complaint{j.Complaint.Kind, j.Complaint.Words, j.Complaint.When, j.Complaint.Before, j.Complaint.Noticed, j.Complaint.Use},
		Conditions: conditions(j), Assumed: a.Assumed, Instruments: d.instruments(), Events: events, Causes: []Cause{},
		NothingLeft: share(a.Mended), Repairs: len(j.Repairs), Before: []Pair{}, Standing: standing(j),
	}
	if !j.Opened.IsZero() {
		r.Opened = &j.Opened
	}
	for _, p := range d.s.Portions() {
		mended := slices.ContainsFunc(a.Suspects, func(x advice.Suspect) bool { return x.ID == p.ID && x.Mended })
		r.Causes = append(r.Causes, Cause{p.ID, p.Name, share(p.Share), mended})
	}
	if len(j.Repairs) > 0 {
		r.Before = pairs(d.s)
	}
	sheet := of(j, d.s, len(d.events), c.Engine, c.Zone)
	r.Proof = sheet.Proof
	return r, nil
}

func standing(j *job.Job) string {
	switch {
	case j.Signed != nil:
		return "signed"
	case j.Waits.For != "":
		return "waits"
	case j.Proved != nil:
		return "proved"
	}
	return "open"
}

// conditions are the temperatures of the job.
func conditions(j *job.Job) []Condition {
	var out []Condition
	for _, t := range []struct {
		what string
		t    question.Temp
	}{{"air", j.Ambient}, {"battery", j.Battery}, {"regulator", j.Regulator}, {"rotor", j.Rotor}} {
		c := Condition{What: t.what, Unit: unit.UCUM(unit.Kelvin), Words: "worked out from the air and the engine's running"}
		if t.t.K > 0 && !t.t.Derive {
			x := significant(unit.ToUCUM(unit.Kelvin, t.t.K), 4)
			c.Value, c.U = &x, t.t.U
			c.Words = fmt.Sprintf("%g\u00a0°C, give or take %g\u00a0K", x, 2*t.t.U)
		}
		out = append(out, c)
	}
	return out
}

// writer writes the entries of a record.
type writer struct {
	*desk
	at map[string]int // number of a reading's entry, by reading
}

// moment is a job as it stood after an event.
type moment struct {
	j *job.Job
	s *advice.Standing
}

// entries tells of every event, and leaves the desk with the job as it stands now.
func (w *writer) entries(ctx context.Context) ([]Entry, error) {
	out := []Entry{}
	var before moment
	for i, e := range w.events {
		now, err := w.after(ctx, before, i+1)
		if err != nil {
			return nil, fmt.Errorf("event %d: %w", i+1, err)
		}
		w.s = now.s
		x := Entry{N: i + 1, ID: e.ID, Kind: string(e.Kind), V: e.V, Body: e.Body, Person: e.Person, Device: e.Device, Engine: e.Engine, Says: []string{}}
		if !e.At.IsZero() {
			x.At = &e.At
		}
		if !e.Recorded.IsZero() {
			x.Recorded = &e.Recorded
		}
		if err := w.tell(&x, before, now, out); err != nil {
			return nil, fmt.Errorf("event %d: %w", i+1, err)
		}
		out, before = append(out, x), now
	}
	var err error
	w.s, err = w.s.Then(ctx, w.input(w.j)) // hook-ups and the like as well
	return out, err
}

// after is the job after n events. Hook-ups, waits and the like move no cause.
func (w *writer) after(ctx context.Context, before moment, n int) (moment, error) {
	j, err := job.Fold(w.events[:n:n], w.Shelf)
	if err != nil {
		return moment{}, err
	}
	switch k := w.events[n-1].Kind; {
	case before.s == nil:
		s, err := advice.Consider(ctx, w.input(j))
		return moment{j, s}, err
	case k == job.Took || k == job.Corrected || k == job.Repaired || k == job.Withdrawn:
		s, err := before.s.Consider(ctx, w.input(j))
		return moment{j, s}, err
	}
	return moment{j, before.s}, nil
}

// shifts are the causes that an event moved, those that lead now first.
func shifts(before, now *advice.Standing) []Shift {
	var out []Shift
	was := map[string]float64{}
	if before != nil {
		for _, p := range before.Portions() {
			was[p.ID] = p.Share
		}
	}
	seen := map[string]bool{}
	for _, p := range now.Portions() {
		x := Shift{ID: p.ID, Name: p.Name, After: share(p.Share)}
		if before != nil {
			b, listed := was[p.ID]
			if !listed {
				b = shareOf(before, p.ID)
			}
			b = share(b)
			x.Before = &b
		}
		seen[p.ID] = true
		out = append(out, x)
	}
	if before == nil {
		return out
	}
	for _, p := range before.Portions() { // that no longer lead
		if !seen[p.ID] && p.ID != "others" {
			b := share(p.Share)
			out = append(out, Shift{p.ID, p.Name, &b, share(shareOf(now, p.ID))})
		}
	}
	slices.SortStableFunc(out, func(a, b Shift) int {
		if last := (a.ID == "others"); last != (b.ID == "others") {
			return map[bool]int{true: 1, false: -1}[last]
		}
		return cmp.Compare(max(b.After, *b.Before), max(a.After, *a.Before))
	})
	return out
}

// shareOf is a cause's share, listed or not.
func shareOf(s *advice.Standing, id string) float64 {
	if id == "no-fault" {
		return s.Advice.NoFault
	}
	for _, x := range s.Advice.Suspects {
		if x.ID == id {
			return x.Probability
		}
	}
	return 0
}

// shown says where a cause moved.
func (x Shift) shown() string {
	if x.Before == nil {
		return advice.Percent(x.After) + "  " + x.Name
	}
	return advice.Percent(*x.Before) + " → " + advice.Percent(x.After) + "  " + x.Name
}

// hookUp is how the vehicle stood.
func (w *writer) hookUp(q question.Question) []advice.At {
	out := []advice.At{}
	sys := w.j.System
	for i, p := range sys.Rig.Places {
		if k := q.Setup.Rig.At(i); k != sys.Rig.Rest.At(i) {
			out = append(out, advice.At{Place: p.ID, Position: p.Positions[k].ID, Name: p.Name + ": " + p.Positions[k].Name})
		}
	}
	return out
}

// heldWords are what is adjusted by hand, as one says it.
var heldWords = map[string]string{"bank-amps": "load tester", "battery-volts": "battery", "output-amps": "output wire"}

// held says what was held by hand, and a speed that was read off.
func (w *writer) held(q question.Question) []string {
	var out []string
	for _, h := range q.Setup.Hold {
		dim, ok := question.HoldDim(h.What)
		if !ok {
			continue
		}
		name := heldWords[h.What]
		if name == "" {
			name = strings.ReplaceAll(h.What, "-", " ")
		}
		out = append(out, name+" at "+kept(unit.Format(dim, h.Target)))
	}
	if n := q.Setup.Engine; n > 0 && n != question.EngineSpeed(&w.j.System.Rig, q.Setup.Rig) {
		out = append(out, "engine at "+kept(unit.Format(unit.AngularSpeed, n)))
	}
	return out
}

// kept keeps a number and its unit on one line.
func kept(s string) string { return strings.Replace(s, " ", "\u00a0", 1) }

// instruments are the meters that were to hand or read, with what they can.
func (d *desk) instruments() []Instrument {
	var out []Instrument
	for _, in := range catalogue() {
		x := Instrument{ID: in.ID, Name: in.Name, Ranges: []Accuracy{}, Source: in.Source, Basis: in.Basis, Calibrated: d.Calibrated[in.ID]}
		for _, r := range in.Ranges {
			if d.readIn(in, r) {
				x.Used = true
				x.Ranges = append(x.Ranges, accuracy(r))
			}
		}
		x.Named = d.named(in.ID)
		if x.Used || slices.Contains(d.j.Meters, in.ID) || len(x.Named) > 0 {
			out = append(out, x)
		}
	}
	if out == nil {
		return []Instrument{}
	}
	return out
}
