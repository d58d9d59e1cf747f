package job

import (
	"errors"
	"slices"
	"strconv"

	"chargewright/identify"
	"chargewright/internal/yamlread"
	"chargewright/problem"
)

// entryKinds are the keys of a log entry that are not a procedure's id.
var entryKinds = []string{"reading", "rig", "could-not", "correct", "repair", "identified", "reopened"}

// log reads what happened, in order: log, or readings as shorthand for a log of
// readings only.
func (r *fileReader) log(m *yamlread.Map) {
	log, readings := m.May("log"), m.May("readings")
	if log.Present() && readings.Present() {
		readings.Add("both log and readings are given, so their order is not known", "one log; each reading in its place as - reading: {…}")
	}
	for _, n := range log.List() {
		r.entry(n)
	}
	for _, n := range readings.List() {
		if one, ok := n.Single(); ok && !r.isReadingKey(one.Key) {
			r.oneLine(one)
			continue
		}
		r.reading(n.Map("reading"))
	}
}

// isReadingKey tells a reading of one key, which is incomplete, from the
// one-line form.
func (r *fileReader) isReadingKey(key string) bool {
	return slices.Contains([]string{"procedure", "quantity", "between", "through", "value", "values"}, key)
}

func (r *fileReader) entry(n yamlread.Node) {
	p, ok := n.Map("log entry").Only()
	if !ok {
		return
	}
	switch p.Key {
	case "reading":
		r.reading(p.Value.Map("reading"))
	case "rig":
		b := RigBody{Rig: r.rig(p.Value)}
		r.record(FoundRig, b)
	case "could-not":
		m := p.Value.Map("could-not")
		b := CouldNotBody{Procedure: r.procedure(m.Need("procedure", "the id of a procedure")), Why: m.Need("why", "why not").Text()}
		m.Done()
		r.record(CouldNot, b)
	case "correct":
		r.correct(p.Value.Map("correction"))
	case "repair":
		r.repair(p.Value.Map("repair"))
	case "identified":
		r.identified(p.Value.Map("identified"))
	case "reopened":
		m := p.Value.Map("reopened")
		b := ReopenedBody{Why: m.Need("why", "why it is opened again").Text(), Complaint: m.May("complaint").OneOf(ComplaintNow...), Elsewhere: true}
		m.Done()
		r.record(Reopened, b)
	default:
		r.oneLine(p)
	}
}

// rig reads {place: position, …}.
func (r *fileReader) rig(n yamlread.Node) map[string]string {
	out := map[string]string{}
	m := n.Map("rig")
	for _, p := range m.Pairs() {
		var places, positions []string
		for _, place := range r.s.Rig.Places {
			places = append(places, place.ID)
			if place.ID == p.Key {
				for _, q := range place.Positions {
					positions = append(positions, q.ID)
				}
			}
		}
		if positions == nil {
			r.f.Add(p.At, "no place is called "+p.Key, yamlread.Suggest(p.Key, places))
			continue
		}
		if id := p.Value.OneOf(positions...); id != "" {
			out[p.Key] = id
		}
	}
	if m.Present() && len(m.Pairs()) == 0 {
		m.Add("names no place", "{engine: idle}")
	}
	return out
}

// procedure reads the id of a procedure that can be done on this system.
func (r *fileReader) procedure(n yamlread.Node) string {
	id := n.Text()
	if id == "" {
		return ""
	}
	return r.known(id, n.Pos())
}

func (r *fileReader) known(id string, at yamlread.Pos) string {
	p, ok := r.shelf.Catalogue[id]
	if !ok {
		r.f.Add(at, "no procedure is called "+id, yamlread.Suggest(id, r.shelf.Catalogue.IDs()))
		return ""
	}
	if ok, why := p.Applies(r.s); !ok {
		r.f.Add(at, "procedure "+id+" cannot be done on this vehicle: "+why, "another procedure")
		return ""
	}
	return id
}

// newID reads an id or makes one from the kind and the count.
func (r *fileReader) newID(m *yamlread.Map, prefix string, count int) string {
	n := m.May("id")
	id, at := n.ID(), n.Pos()
	if !n.Present() {
		id, at = prefix+strconv.Itoa(count), m.Pos()
	}
	return r.take(id, at)
}

func (r *fileReader) take(id string, at yamlread.Pos) string {
	if id == "" {
		return ""
	}
	if first, twice := r.ids[id]; twice {
		r.f.Add(at, "id "+id+" is already that of line "+strconv.Itoa(first.Line), "id: another one")
		return ""
	}
	r.ids[id] = at
	return id
}

func (r *fileReader) correct(m *yamlread.Map) {
	ref := m.Need("id", "the id of a reading")
	b := CorrectBody{ID: ref.Text()}
	wants, found := r.readings[b.ID]
	if b.ID != "" && !found {
		ref.Add("no earlier reading is called "+b.ID, yamlread.Suggest(b.ID, r.order))
	}
	if found {
		b.Values = r.values(m, wants)
	} else {
		m.May("value")
		m.May("values")
	}
	b.Why = m.Need("why", "misread").Text()
	m.Done()
	r.record(Corrected, b)
}

func (r *fileReader) repair(m *yamlread.Map) {
	r.mended++
	b := RepairBody{ID: r.newID(m, "repair-", r.mended)}
	b.Part = m.May("part").Text()
	repair := m.May("repair")
	b.Repair = repair.Text()
	if p := r.shelf.PracticeOf(r.s); p != nil && b.Repair != "" {
		if _, ok := p.Repairs[b.Repair]; !ok {
			repair.Add("no repair is called "+b.Repair, yamlread.Suggest(b.Repair, p.RepairIDs()))
		}
	}
	b.What = m.May("what").Text()
	b.Cured = m.Need("cured", "yes, no or unknown").OneOf("yes", "no", "unknown")
	if m.Present() && b.Part == "" && b.Repair == "" && b.What == "" {
		m.Add("does not say what was done", "repair: the id of a repair, or what: in words")
	}
	m.Done()
	r.record(Repaired, b)
}

// identified reads {look: answer, …} and weighs it.
func (r *fileReader) identified(m *yamlread.Map) {
	lib, err := identify.Library()
	if err != nil {
		m.Add("the looks that are shipped cannot be read: "+err.Error(), "another build of the program")
		return
	}
	answers, whole := map[string]string{}, len(m.Pairs()) > 0
	for _, p := range m.Pairs() {
		answers[p.Key] = p.Value.Text()
		if answers[p.Key] == "" {
			whole = false // said where it stands
			continue
		}
		whole = r.looked(p.At, lib.Check(map[string]string{p.Key: answers[p.Key]})) && whole
	}
	if m.Present() && len(m.Pairs()) == 0 {
		m.Add("names no look", "{regulator: contacts}")
	}
	if !whole {
		return
	}
	b, err := IdentifiedBy(lib, r.s, answers)
	if r.looked(m.Pos(), err) {
		r.record(Identified, b)
	}
}

// looked notes what is wrong with answers to looks.
func (r *fileReader) looked(at yamlread.Pos, err error) bool {
	var list problem.List
	if errors.As(err, &list) {
		for _, p := range list {
			r.f.Add(at, p.What, p.Instead)
		}
	}
	return err == nil
}
