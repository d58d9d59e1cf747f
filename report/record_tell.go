package report

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"chargewright/advice"
	"chargewright/job"
)

// tell puts an event into words, with what it did to the causes.
func (w *writer) tell(x *Entry, before, now moment, earlier []Entry) error {
	last := len(now.j.Entries) - 1
	if last < 0 {
		return w.opening(x, now)
	}
	say := func(list ...string) { x.Says = append(x.Says, nonEmpty(list...)...) }
	switch b := now.j.Entries[last].Body.(type) {
	case job.ReadingBody:
		w.at[b.ID] = x.N
		x.Reading = w.taken(b, before.s, now)
		x.Title = "Reading " + b.ID + ": " + x.Reading.Name
	case job.CorrectBody:
		w.corrects(x, b, before, now, earlier)
		say("why: " + b.Why)
	case job.RigBody:
		x.Title = "Hook-up, as it was seen"
		say(strings.Join(w.places(b.Rig), "; "), w.leadsOn(b.Leads))
	case job.CouldNotBody:
		x.Title = "Could not be taken: " + w.procedure(b.Procedure)
		say("why: " + b.Why)
	case job.RepairBody:
		x.Title = w.repairTitle(b)
		say(repairSays(b)...)
	case job.WaitsBody:
		x.Title = "Waits for " + waitWords[b.For]
		if b.For == "nothing" {
			x.Title = "Goes on"
		}
		say(b.What)
	case job.ProvedBody:
		x.Title = "Proof taken as complete"
		say(w.proofSays(b, now)...)
	case job.SignedBody:
		x.Title = "Signed off"
		say(signedSays(b)...)
	case job.ReopenedBody:
		x.Title = "Reopened"
		say("why: "+b.Why, b.Says(), "what was signed stays in the journal; the hook-up counts as not seen")
	case job.IdentifiedBody:
		x.identify(b)
	case job.WithdrawnBody:
		if err := x.takeBack(b, earlier); err != nil {
			return err
		}
	default:
		return fmt.Errorf("kind %q is not known; use a newer program", x.Kind)
	}
	if before.s != now.s {
		x.Causes = shifts(before.s, now.s)
		if len(now.j.Repairs) > 0 {
			left := share(now.s.Advice.Mended)
			x.NothingLeft = &left
		}
	}
	return nil
}

// takeBack tells which entry was taken back, and marks it.
func (e *Entry) takeBack(b job.WithdrawnBody, earlier []Entry) error {
	n := slices.IndexFunc(earlier, func(o Entry) bool { return o.ID == b.Event })
	if n < 0 {
		return fmt.Errorf("it takes back %s, which is not there", b.Event)
	}
	earlier[n].BackBy = e.N
	e.Title = fmt.Sprintf("Took back entry %d: %s", earlier[n].N, earlier[n].Title)
	if b.Why != "" {
		e.Says = append(e.Says, "why: "+b.Why)
	}
	return nil
}

// identify tells what was seen of the vehicle.
func (e *Entry) identify(b job.IdentifiedBody) {
	e.Title = b.Title()
	e.Says = append(append(e.Says, b.Says()), b.Seen()...)
	e.Identified = &Identified{Name: b.Name, Probability: b.Probability, Basis: b.Basis}
	for _, l := range b.Looks {
		e.Identified.Looks = append(e.Identified.Looks, Seen{l.Ask, l.Say})
	}
}

// opening is the first entry.
func (w *writer) opening(x *Entry, now moment) error {
	var b job.OpenedBody
	if err := json.Unmarshal(w.events[0].Body, &b); err != nil {
		return err
	}
	x.Title = "Opened"
	if b.Complaint != nil {
		x.Title += ": " + strings.ReplaceAll(b.Complaint.Kind, "-", " ")
		if b.Complaint.Words != "" {
			x.Says = append(x.Says, "“"+b.Complaint.Words+"”")
		}
	}
	x.Causes = shifts(nil, now.s)
	return nil
}

func (w *writer) procedure(id string) string {
	if p := w.Shelf.Catalogue[id]; p != nil {
		return p.Name
	}
	return id
}

// places says where places were seen to stand.
func (w *writer) places(seen map[string]string) []string {
	var out []string
	for _, p := range w.j.System.Rig.Places {
		for _, q := range p.Positions {
			if seen[p.ID] == q.ID {
				out = append(out, p.Name+": "+q.Name)
			}
		}
	}
	return out
}

// leadsOn says which leads were ticked as on.
func (w *writer) leadsOn(list []string) string {
	var out []string
	for _, l := range list {
		if red, black, pair := strings.Cut(l, "/"); pair {
			out = append(out, "red on "+w.point(red)+", black on "+w.point(black))
		} else {
			out = append(out, "clamp meter round "+w.element(l))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return "leads on: " + strings.Join(out, "; ")
}

// point is a point as the drawing numbers it.
func (d *desk) point(id string) string {
	for _, p := range d.j.System.Points {
		if p.ID != id {
			continue
		}
		out := p.Name
		if p.Number > 0 {
			out = fmt.Sprintf("%d %s", p.Number, out)
		}
		if p.Terminal != "" {
			out += " (" + p.Terminal + ")"
		}
		return out
	}
	return id
}

func (d *desk) element(id string) string {
	for _, e := range d.j.System.Elements {
		if e.ID == id {
			return e.Name
		}
	}
	return id
}

func (w *writer) repairTitle(b job.RepairBody) string {
	name := w.s.RepairName(b.Repair)
	if name == "" {
		name = b.Part
	}
	if name == "" {
		name = "in words below"
	}
	return "Repair " + b.ID + ": " + name
}

// waitWords say what a job waits for.
var waitWords = map[string]string{"battery": "the battery", "part": "a part", "customer": "the customer's word", "hands": "a second pair of hands"}

// curedWords say whether the complaint is gone.
var curedWords = map[string]string{"yes": "the complaint is gone", "no": "the complaint is still there", "unknown": "not known yet whether the complaint is gone"}

func repairSays(b job.RepairBody) []string {
	part := ""
	if b.Repair != "" && b.Part != "" {
		part = "part: " + b.Part
	}
	return []string{part, b.What, curedWords[b.Cured]}
}

// proofSays says what a proof rests on.
func (w *writer) proofSays(b job.ProvedBody, now moment) []string {
	var names, missing []string
	for _, id := range b.Readings {
		name := id
		if r := now.s.Advice.Readings[id]; r != nil {
			name = r.Name + " (" + id + ")"
		}
		names = append(names, name)
	}
	for _, id := range b.Missing {
		missing = append(missing, w.procedure(id))
	}
	out := []string{"rests on: " + orDash(strings.Join(names, "; "))}
	if len(missing) > 0 {
		out = append(out, "not taken: "+strings.Join(missing, "; "))
	}
	yes := map[bool]string{true: "yes", false: "not confirmed"}
	return append(out, "covers, plugs, straps and guards back on: "+yes[b.Covers], "leads, jumpers and tools off the vehicle: "+yes[b.Leads], b.Note)
}

// signedSays says what was signed, by the hash of its bytes.
func signedSays(b job.SignedBody) []string {
	sum := sha256.Sum256(b.Report)
	out := []string{curedWords[b.Gone], b.Note}
	var sheet Report
	if json.Unmarshal(b.Report, &sheet) == nil && sheet.Title != "" {
		out = append(out, "what was signed: “"+sheet.Title+"”, bytes with sha256 "+hex.EncodeToString(sum[:]))
	}
	return append(out, "journal "+b.Head)
}

// taken is a reading with its values as they stand after it.
func (w *writer) taken(b job.ReadingBody, before *advice.Standing, now moment) *Taken {
	q, _ := now.j.Reading(b.ID)
	a := now.s.Advice.Readings[b.ID]
	t := &Taken{
		ID: b.ID, Procedure: b.Procedure, Name: a.Name, HookUp: w.hookUp(q.Question), Held: w.held(q.Question), Showing: b.Showing, Basis: q.Basis,
		Values: []Value{}, Speaks: speaks(now.s, b.ID), PWrong: share(a.PWrong),
	}
	for i := range a.Values {
		t.Values = append(t.Values, w.value(q.Question.Seek[i], q.Values[i], a.Values[i]))
	}
	named(t.Values, b.Instruments)
	if before != nil {
		t.Odd = now.s.Since(before, b.ID).Odd
	}
	return t
}

// speaks says for and against which causes a reading speaks.
func speaks(s *advice.Standing, id string) []string {
	out := []string{}
	for i, l := range s.Weights(id) {
		if i == 4 {
			break
		}
		side := " against  "
		if l.For {
			side = " for  "
		}
		out = append(out, l.Odds+side+l.Name)
	}
	return out
}

// corrects tells a correction: what stood, and what stands in its place.
func (w *writer) corrects(x *Entry, b job.CorrectBody, before, now moment, earlier []Entry) {
	q, _ := now.j.Reading(b.ID)
	was, a := before.s.Advice.Readings[b.ID], now.s.Advice.Readings[b.ID]
	x.Title = "Correction of reading " + b.ID + ": " + a.Name
	c := &Correction{Reading: b.ID, Event: w.at[b.ID], Was: []string{}, Values: []Value{}}
	for i := range b.Values {
		c.Was = append(c.Was, strings.TrimSpace(was.Values[i].Words()+" "+was.Values[i].Doubt()))
		c.Values = append(c.Values, w.value(q.Question.Seek[i], q.Values[i], a.Values[i]))
	}
	for _, e := range now.j.Entries {
		if r, is := e.Body.(job.ReadingBody); is && r.ID == b.ID {
			named(c.Values, r.Instruments)
		}
	}
	x.Correction = c
	for i := range earlier {
		if earlier[i].N == c.Event {
			earlier[i].CorrectedBy = append(earlier[i].CorrectedBy, x.N)
		}
	}
}
