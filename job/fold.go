package job

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"chargewright/question"
	"chargewright/unit"
)

// Fold turns events into a Job. It is pure: the same events on the same shelf
// give the same Job. An event that cannot follow the ones before it is an
// error; events of one id with the same bytes count once.
func Fold(events []Event, shelf Shelf) (*Job, error) {
	if len(events) == 0 || events[0].Kind != Opened {
		return nil, errors.New("a job begins with its opening; the first event is none")
	}
	back, err := takenBack(events)
	if err != nil {
		return nil, err
	}
	f := &folder{shelf: shelf, seen: map[string]Event{}}
	for i, e := range events {
		if before, twice := f.seen[e.ID]; twice && e.ID != "" {
			if before.Kind == e.Kind && bytes.Equal(before.Body, e.Body) {
				continue
			}
			return nil, fmt.Errorf("event %d: id %s was used before for something else; give it its own id", i+1, e.ID)
		}
		f.seen[e.ID] = e
		do := f.apply
		switch {
		case back[e.ID]:
			do = f.withdrawn
		case e.Kind == Withdrawn:
			do = f.takesBack
		}
		if err := do(e); err != nil {
			return nil, fmt.Errorf("event %d (%s): %w", i+1, e.Kind, err)
		}
	}
	return f.j, nil
}

// folder is a job in the making.
type folder struct {
	shelf Shelf
	j     *Job
	seen  map[string]Event
	said  bool // somebody said how the vehicle stands since the last test
}

func (f *folder) apply(e Event) error {
	if e.V != bodyFormat {
		return fmt.Errorf("version %d of this event is not known; use a newer program", e.V)
	}
	if e.Kind == Opened {
		return f.open(e)
	}
	if err := f.one(e); err != nil {
		return err
	}
	last := &f.j.Entries[len(f.j.Entries)-1]
	last.Rig = f.j.Rig
	return nil
}

// one applies one event after the opening and appends its entry.
func (f *folder) one(e Event) error {
	switch e.Kind {
	case Waits, Proved, Signed, Reopened:
		return f.close(e)
	case Identified:
		return f.identified(e)
	case Took:
		var b ReadingBody
		if err := decode(e, &b); err != nil {
			return err
		}
		f.goesOn()
		return f.take(e, &b)
	case FoundRig:
		var b RigBody
		if err := decode(e, &b); err != nil {
			return err
		}
		f.add(e, "", -1, b)
		if err := f.leads(b.Leads); err != nil {
			return err
		}
		return f.found(b.Rig)
	case CouldNot:
		var b CouldNotBody
		if err := decode(e, &b); err != nil {
			return err
		}
		f.j.CouldNot[b.Procedure] = b.Why
		f.add(e, "", -1, b)
	case Corrected:
		var b CorrectBody
		if err := decode(e, &b); err != nil {
			return err
		}
		f.goesOn()
		return f.correct(e, &b)
	case Repaired:
		var b RepairBody
		if err := decode(e, &b); err != nil {
			return err
		}
		f.goesOn()
		f.add(e, b.ID, -1, b)
		f.j.Epoch++
		f.j.Leads = nil
		f.j.Repairs = append(f.j.Repairs, Repair{RepairBody: b, Epoch: f.j.Epoch, Counts: b.Cured})
	default:
		return fmt.Errorf("kind %q is not known; use a newer program", e.Kind)
	}
	return nil
}

func (f *folder) add(e Event, id string, reading int, body any) {
	f.j.Entries = append(f.j.Entries, Entry{
		Kind: e.Kind, Seq: e.Seq, Epoch: f.j.Epoch, ID: id, Reading: reading, Body: body,
		Event: e.ID, At: e.At, Recorded: e.Recorded, Person: e.Person,
	})
}

// decode reads a body; a field that this version does not know is refused,
// since leaving it out could change the meaning.
func decode(e Event, into any) error {
	d := json.NewDecoder(bytes.NewReader(e.Body))
	d.DisallowUnknownFields()
	return d.Decode(into)
}

func (f *folder) open(e Event) error {
	if f.j != nil {
		return errors.New("the job is open already")
	}
	var b OpenedBody
	if err := decode(e, &b); err != nil {
		return err
	}
	if f.shelf.System == nil {
		return errors.New("no systems to look " + b.System + " up in")
	}
	s, err := f.shelf.System(b.System)
	if err != nil {
		return err
	}
	if sum := hex.EncodeToString(s.SHA256[:]); b.SHA256 != "" && b.SHA256 != sum {
		return fmt.Errorf("system %s is not the one that the job was opened with (%.12s, now %.12s)", b.System, b.SHA256, sum)
	}
	f.j = &Job{
		ID: b.Job, SystemID: s.ID, System: s, Vehicle: b.Vehicle, Customer: b.Customer, Opened: b.Opened, Meters: b.Meters,
		CouldNot: map[string]string{}, Rig: s.Rig.Rest,
	}
	if b.Complaint != nil {
		f.j.Complaint = *b.Complaint
	} else {
		f.assume("no complaint was given: nothing is concluded from one")
	}
	f.temperatures(b.Conditions)
	return nil
}

func (f *folder) assume(format string, args ...any) {
	f.j.Assumed = append(f.j.Assumed, fmt.Sprintf(format, args...))
}

// What is known of a temperature [K, standard uncertainty]. An ambient that
// nobody gave is that of a workshop (memory); one that was given was read off
// something within a degree or two.
const (
	workshop       = 293.15
	workshopSpread = 8.0
	givenSpread    = 2.0
)

func (f *folder) temperatures(c *Conditions) {
	if c == nil {
		c = &Conditions{}
	}
	temp := func(k *float64) question.Temp {
		if k == nil {
			return question.Temp{Derive: true}
		}
		return question.Temp{K: *k, U: givenSpread}
	}
	f.j.Ambient, f.j.Battery = temp(c.Ambient), temp(c.Battery)
	f.j.Regulator, f.j.Rotor, f.j.Hot = temp(c.Regulator), temp(c.Rotor), c.Hot
	if c.Ambient == nil {
		f.j.Ambient = question.Temp{K: workshop, U: workshopSpread}
		f.assume("no ambient temperature was given: taken as %s, give or take %.0f K", unit.Format(unit.Kelvin, workshop), workshopSpread)
	}
}

func (f *folder) correct(e Event, b *CorrectBody) error {
	for i := range f.j.Readings {
		r := &f.j.Readings[i]
		if r.ID != b.ID {
			continue
		}
		own := len(f.ownSeek(r))
		if len(b.Values) != own {
			return fmt.Errorf("reading %s has %d values, the correction %d", b.ID, own, len(b.Values))
		}
		values, err := toValues(b.Values)
		if err != nil {
			return err
		}
		r.Values = append(values, r.Values[own:]...)
		f.add(e, b.ID, i, *b)
		return nil
	}
	return fmt.Errorf("no earlier reading is called %s", b.ID)
}

// ownSeek is what the reading itself asked for, without the other meters.
func (f *folder) ownSeek(r *question.Reading) []question.Observable {
	if p, ok := f.shelf.Catalogue[r.Question.Procedure]; ok {
		return p.Seek()
	}
	return r.Question.Seek[:1]
}

// hows are the ways a value can stand in a reading.
var hows = map[string]bool{
	string(question.Measured): true, string(question.Over): true, string(question.Under): true,
	string(question.Between): true, string(question.Class): true, string(question.NotTaken): true,
}

func toValues(bodies []ValueBody) ([]question.Value, error) {
	out := make([]question.Value, len(bodies))
	for i, b := range bodies {
		if !hows[b.How] {
			return nil, fmt.Errorf("value %d came about as %q, which is not known", i+1, b.How)
		}
		for _, x := range []float64{b.X, b.Lo, b.Hi, b.U} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return nil, fmt.Errorf("value %d is not a finite number", i+1)
			}
		}
		out[i] = question.Value{How: question.How(b.How), X: b.X, Lo: b.Lo, Hi: b.Hi, U: b.U, Class: b.Class, Why: b.Why}
	}
	return out, nil
}
