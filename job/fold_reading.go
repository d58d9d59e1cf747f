package job

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// take applies a reading. One whose device did not know of a repair or a
// reopening that stands in the log was taken before it: it counts there, and
// moves nothing now.
func (f *folder) take(e Event, b *ReadingBody) error {
	missed := f.since(e.Seen, Repaired)
	if e.Seen <= 0 || missed+f.since(e.Seen, Reopened) == 0 {
		return f.takeIn(f.j.Epoch, e, b)
	}
	rig, known, leads := f.j.Rig, f.j.Known, f.j.Leads
	f.j.Rig = f.j.System.Rig.Rest
	for _, x := range f.j.Entries {
		if x.Seq <= e.Seen {
			f.j.Rig = x.Rig
		}
	}
	err := f.takeIn(f.j.Epoch-missed, e, b)
	f.j.Rig, f.j.Known, f.j.Leads = rig, known, leads
	return err
}

// since counts the entries of a kind that stand after an event of the stream.
func (f *folder) since(seq int, kind Kind) (n int) {
	for _, x := range f.j.Entries {
		if x.Kind == kind && !x.Back && x.Seq > seq {
			n++
		}
	}
	return n
}

// takeIn applies a reading of an epoch: what was asked, how the vehicle stood,
// what came out.
func (f *folder) takeIn(epoch int, e Event, b *ReadingBody) error {
	if _, twice := f.j.Reading(b.ID); twice || b.ID == "" {
		return fmt.Errorf("reading id %q is empty or used before", b.ID)
	}
	r := question.Reading{ID: b.ID, Seat: b.Seat, Epoch: epoch, Showing: question.Showing(b.Showing), Basis: b.Basis}
	if r.Basis == "" {
		r.Basis = "entered"
	}
	var p *question.Procedure
	if b.Procedure != "" {
		if p = f.shelf.Catalogue[b.Procedure]; p == nil {
			return fmt.Errorf("no procedure is called %s", b.Procedure)
		}
		r.Question = question.Question{Procedure: p.ID, Seek: slices.Clone(p.Seek())}
		delete(f.j.CouldNot, p.ID)
	} else {
		o, err := f.freeObservable(b)
		if err != nil {
			return err
		}
		r.Question.Seek = []question.Observable{o}
	}
	values, err := toValues(b.Values)
	if err != nil {
		return err
	}
	if len(values) != len(r.Question.Seek) {
		return fmt.Errorf("reading %s has %d values, %d are asked for", b.ID, len(values), len(r.Question.Seek))
	}
	r.Values = values
	if err := f.stand(b, p); err != nil {
		return err
	}
	r.Question.Setup = f.setup(b, p)
	if err := f.with(&r, b); err != nil {
		return err
	}
	f.j.Readings, f.j.Leads = append(f.j.Readings, r), nil
	f.add(e, b.ID, len(f.j.Readings)-1, *b)
	f.j.Entries[len(f.j.Entries)-1].Epoch = epoch
	return nil
}

// freeObservable is what a reading without a procedure measured. Left out, the
// meter is the usual one for the quantity.
func (f *folder) freeObservable(b *ReadingBody) (question.Observable, error) {
	o := question.Observable{Kind: question.Kind(b.Quantity), Through: b.Through, Meter: b.Meter, Note: b.Quantity}
	if len(b.Between) == 2 {
		o.Red, o.Black = b.Between[0], b.Between[1]
	}
	if o.Meter == "" {
		o.Meter = "dmm"
		if o.Kind == question.Amps {
			o.Meter = "dc-clamp"
		}
	}
	s := f.j.System
	point := func(id string) bool {
		return slices.ContainsFunc(s.Points, func(p system.Point) bool { return p.ID == id })
	}
	switch {
	case !slices.Contains(freeQuantities, b.Quantity):
		return o, fmt.Errorf("reading %s: %q is no quantity of a free reading", b.ID, b.Quantity)
	case o.Kind == question.Amps && !slices.Contains(branches(s), o.Through):
		return o, fmt.Errorf("reading %s: system %s has no branch %q", b.ID, s.ID, o.Through)
	case o.Kind != question.Amps && (!point(o.Red) || !point(o.Black)):
		return o, fmt.Errorf("reading %s: system %s has no points %q and %q", b.ID, s.ID, o.Red, o.Black)
	}
	return o, nil
}

// stand moves the rig to where it must have stood for the reading.
func (f *folder) stand(b *ReadingBody, p *question.Procedure) error {
	if p == nil {
		return f.standFree(b)
	}
	f.said = false
	target, err := p.Target(f.j.System)
	if err != nil {
		return err
	}
	stated, err := f.places(b.Rig)
	if err != nil {
		return err
	}
	for place, position := range stated {
		if named := target.Positions[place]; named != 0 && named>>position&1 == 0 {
			f.assume("%s: %s stood at %s, where the procedure asks for %s; the reading counts as taken so", b.ID,
				f.place(place).Name, f.place(place).Positions[position].Name, f.positions(place, named))
		}
		target.Positions[place] = 1 << position
	}
	for place, named := range target.Positions {
		if named != 0 {
			f.j.Known |= 1 << place
		}
	}
	f.j.Rig = f.reach(b.ID, target)
	return nil
}

// standFree sets the hook-up of a free reading: what it says of places, over the
// last hook-up in the log. A load that is held must be drawing.
func (f *folder) standFree(b *ReadingBody) error {
	stated := maps.Clone(b.Rig)
	if stated == nil {
		stated = map[string]string{}
		f.assume("%s: no hook-up was given, so it is the last one in the log: %s", b.ID, f.words(f.j.Rig))
		if !f.said {
			f.j.Guessed = append(f.j.Guessed, b.ID)
		}
	}
	for _, h := range b.Held {
		if place, position, ok := f.drawing(h.What); ok && stated[place] == "" && h.Target > 0 {
			stated[place] = position
			f.assume("%s: %s is held, so %s is %s", b.ID, h.What, place, position)
		}
	}
	if len(stated) == 0 {
		return nil
	}
	return f.found(stated)
}

// drawing finds the position in which what is held by hand flows, if the
// hook-up is not in it already.
func (f *folder) drawing(what string) (place, position string, ok bool) {
	if what != "bank-amps" {
		return "", "", false
	}
	sets := func(q rig.Position) bool {
		return slices.ContainsFunc(q.Sets, func(s rig.Set) bool { return s.Element == "bank.amps" })
	}
	for i, p := range f.j.System.Rig.Places {
		if k := slices.IndexFunc(p.Positions, sets); k >= 0 {
			return p.ID, p.Positions[k].ID, !sets(p.Positions[f.j.Rig.At(i)])
		}
	}
	return "", "", false
}

// reach is where a person ends who changes the hook-up from where it is now.
// Where no way leads there by the rules, the places are set as they must be.
func (f *folder) reach(id string, target rig.Target) rig.State {
	r := &f.j.System.Rig
	plan, err := r.Path(f.safe(), target)
	if err == nil {
		return plan.Final
	}
	s := f.j.Rig
	for i, p := range r.Places {
		named, at := target.Positions[i], s.At(i)
		switch {
		case named != 0 && named>>at&1 == 0:
			s = s.With(i, lowest(named))
		case named == 0 && !p.Positions[at].Inert && at != r.Rest.At(i):
			s = s.With(i, r.Rest.At(i))
		}
	}
	f.assume("%s: no way leads there by the rules (%v); the hook-up is taken as %s", id, err, f.words(s))
	return s
}

func lowest(mask uint16) int {
	for i := range rig.MaxPositions {
		if mask>>i&1 == 1 {
			return i
		}
	}
	return 0
}

// found sets places to where they were seen. The others stay, unless a rule of
// the system says that they cannot have: then they stand where the shortest way
// to a state with the places seen leads.
func (f *folder) found(stated map[string]string) error {
	f.said = true
	places, err := f.places(stated)
	if err != nil {
		return err
	}
	r, s := &f.j.System.Rig, f.j.Rig
	var target rig.Target
	for i := range r.Places {
		if position, named := places[i]; named {
			s = s.With(i, position)
			target.Positions[i] = 1 << position
			f.j.Known |= 1 << i
		} else {
			target.Positions[i] = 1<<len(r.Places[i].Positions) - 1
		}
	}
	if ok, broken := r.Allowed(s); !ok {
		plan, err := r.Path(f.safe(), target)
		if err != nil {
			f.assume("the hook-up as found is against %s (%s): put that right first", broken[0].Rule, broken[0].Why)
		} else {
			s = plan.Final
			f.assume("with %s, the rest must stand so: %s", statedWords(stated), f.words(s))
		}
	}
	f.j.Rig = s
	return nil
}

// leads keeps which leads are on: each between two points, or round a wire.
func (f *folder) leads(on []string) error {
	point := func(id string) bool {
		return slices.ContainsFunc(f.j.System.Points, func(p system.Point) bool { return p.ID == id })
	}
	for _, l := range on {
		red, black, pair := strings.Cut(l, "/")
		wire := slices.ContainsFunc(f.j.System.Elements, func(e system.Element) bool { return e.ID == l })
		if pair && !(point(red) && point(black)) || !pair && !wire {
			return fmt.Errorf("leads are on %q, which is no two points and no wire", l)
		}
	}
	f.j.Leads = on
	return nil
}

// safe is the hook-up now, or, when that is against a rule, the one in which a
// person leaves the vehicle who puts it right.
func (f *folder) safe() rig.State {
	r := &f.j.System.Rig
	if ok, _ := r.Allowed(f.j.Rig); ok {
		return f.j.Rig
	}
	plan, err := r.Park(f.j.Rig)
	if err != nil {
		return r.Rest
	}
	return plan.Final
}

func (f *folder) place(i int) *rig.Place { return &f.j.System.Rig.Places[i] }

// places resolves ids to indices.
func (f *folder) places(stated map[string]string) (map[int]int, error) {
	out := map[int]int{}
	var list []error
	for _, id := range slices.Sorted(maps.Keys(stated)) {
		i := slices.IndexFunc(f.j.System.Rig.Places, func(p rig.Place) bool { return p.ID == id })
		if i < 0 {
			list = append(list, fmt.Errorf("system %s has no place %s", f.j.SystemID, id))
			continue
		}
		k := slices.IndexFunc(f.place(i).Positions, func(q rig.Position) bool { return q.ID == stated[id] })
		if k < 0 {
			list = append(list, fmt.Errorf("place %s has no position %s", id, stated[id]))
			continue
		}
		out[i] = k
	}
	return out, errors.Join(list...)
}

func (f *folder) positions(place int, mask uint16) string {
	var names []string
	for k, q := range f.place(place).Positions {
		if mask>>k&1 == 1 {
			names = append(names, q.Name)
		}
	}
	return strings.Join(names, " or ")
}

func statedWords(stated map[string]string) string {
	var parts []string
	for _, id := range slices.Sorted(maps.Keys(stated)) {
		parts = append(parts, id+" "+stated[id])
	}
	return strings.Join(parts, ", ")
}

// words says how the vehicle stands: every place that is not at rest.
func (f *folder) words(s rig.State) string {
	var parts []string
	for i, p := range f.j.System.Rig.Places {
		if s.At(i) != f.j.System.Rig.Rest.At(i) {
			parts = append(parts, p.Name+": "+p.Positions[s.At(i)].Name)
		}
	}
	if len(parts) == 0 {
		return "as the vehicle rolled in"
	}
	return strings.Join(parts, "; ")
}

// setup is how the vehicle stood, rig and operating point.
func (f *folder) setup(b *ReadingBody, p *question.Procedure) question.Setup {
	s := question.Setup{
		Rig: f.j.Rig, Known: f.j.Known, Engine: question.EngineSpeed(&f.j.System.Rig, f.j.Rig),
		Ambient: f.j.Ambient, Battery: f.j.Battery, Reg: f.j.Regulator, Rotor: f.j.Rotor, Hot: f.j.Hot || b.Hot,
	}
	if p != nil {
		s.Hold = slices.Clone(p.Hold)
	}
	hold := func(what string, target float64) {
		i := slices.IndexFunc(s.Hold, func(h question.Hold) bool { return h.What == what })
		if i < 0 {
			s.Hold = append(s.Hold, question.Hold{What: what})
			i = len(s.Hold) - 1
		}
		s.Hold[i].Target = target
	}
	for _, h := range b.Held {
		hold(h.What, h.Target)
	}
	for _, w := range b.With {
		if w.Value.How != string(question.Measured) {
			continue
		}
		switch w.What {
		case "engine":
			s.Engine = w.Value.X
		case "bank-amps":
			hold(w.What, w.Value.X)
		}
	}
	return s
}

// with appends what stood on the other meters to the reading.
func (f *folder) with(r *question.Reading, b *ReadingBody) error {
	for _, w := range b.With {
		o, ok := observableOf(f.j.System, w.What)
		if !ok {
			if w.What != "bank-amps" {
				f.assume("%s: %s is not used, the system has no one branch that carries it", b.ID, w.What)
			}
			continue
		}
		v, err := toValues([]ValueBody{w.Value})
		if err != nil {
			return err
		}
		r.Question.Seek, r.Values = append(r.Question.Seek, o), append(r.Values, v[0])
	}
	return nil
}
