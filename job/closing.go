package job

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Kinds of event that a page records beside those of a job file.
const (
	Withdrawn Kind = "withdraw"
	Waits     Kind = "wait"
	Proved    Kind = "prove"
	Signed    Kind = "sign"
	Reopened  Kind = "reopened"
)

// WithdrawnBody takes back the last event that stands. Nothing is rubbed out:
// both stay in the journal, and the job is as it was before.
type WithdrawnBody struct {
	Event string `json:"event"` // id of the event that is taken back
	Why   string `json:"why,omitempty"`
}

// WaitsBody says that the job waits, and for what.
type WaitsBody struct {
	For  string `json:"for"` // see WaitWords; nothing = it goes on
	What string `json:"what,omitempty"`
}

// WaitWords are what a job may wait for.
var WaitWords = []string{"battery", "part", "customer", "hands", "nothing"}

// ProvedBody says that the proof of the repairs is complete in somebody's eyes.
type ProvedBody struct {
	Readings []string `json:"readings"`          // ids of the readings that it rests on
	Covers   bool     `json:"covers"`            // covers, plugs, straps and guards are back on
	Leads    bool     `json:"leads"`             // test leads, jumpers and tools are off the vehicle
	Missing  []string `json:"missing,omitempty"` // procedures of the proof that were not done
	Note     string   `json:"note,omitempty"`
}

// SignedBody closes a job. Report is what was signed, as it stood: a newer
// program shows it beside what it would say itself.
type SignedBody struct {
	Gone   string          `json:"gone"` // the complaint: yes, no, unknown
	Note   string          `json:"note,omitempty"`
	Head   string          `json:"head"` // hash of the whole journal before this event: `journal verify --head` finds it
	Report json.RawMessage `json:"report"`
}

// ReopenedBody opens a signed job again. What was signed stays in the journal; the
// job wants a proof and a signature of its own.
type ReopenedBody struct {
	Why       string `json:"why"`
	Complaint string `json:"complaint,omitempty"`        // what it does now: see ComplaintNow; "" = not said
	Elsewhere bool   `json:"signed_elsewhere,omitempty"` // from a job file, which holds no signed sheet
}

// ComplaintNow are what a complaint may do when a signed job is opened again.
var ComplaintNow = []string{back, "not-back"}

const back = "back"

// Says is what the complaint does now, in words; "" where it was not said.
func (b ReopenedBody) Says() string {
	return map[string]string{back: "the complaint is back", "not-back": "the complaint is not back"}[b.Complaint]
}

// takenBack finds the events that a later one takes back. Only the last event
// that still stands can be, and neither the opening nor a signature.
func takenBack(events []Event) (map[string]bool, error) {
	back, seen := map[string]bool{}, map[string]bool{}
	var standing []Event
	for i, e := range events {
		if seen[e.ID] && e.ID != "" {
			continue // sent twice; Fold compares the bytes
		}
		seen[e.ID] = true
		if e.Kind != Withdrawn {
			if e.Kind != Opened {
				standing = append(standing, e)
			}
			continue
		}
		var b WithdrawnBody
		if err := decode(e, &b); err != nil {
			return nil, fmt.Errorf("event %d (%s): %w", i+1, e.Kind, err)
		}
		n := len(standing)
		switch {
		case n == 0:
			return nil, fmt.Errorf("event %d (%s): nothing stands that could be taken back", i+1, e.Kind)
		case standing[n-1].ID != b.Event:
			return nil, fmt.Errorf("event %d (%s): %s is not the last thing that stands, which is %s; take that back first", i+1, e.Kind, b.Event, standing[n-1].ID)
		case standing[n-1].Kind == Signed:
			return nil, fmt.Errorf("event %d (%s): a signature is not taken back; go on with the job and sign again", i+1, e.Kind)
		}
		back[b.Event] = true
		standing = standing[:n-1]
	}
	return back, nil
}

// Last is the event that could be taken back now: the last one that stands. The
// second result is false when there is none.
func Last(events []Event) (Event, bool) {
	back, err := takenBack(events)
	if err != nil {
		return Event{}, false
	}
	for i := len(events) - 1; i >= 0; i-- {
		e := events[i]
		switch {
		case e.Kind == Opened || e.Kind == Signed:
			return Event{}, false
		case e.Kind == Withdrawn || back[e.ID]:
		default:
			return e, true
		}
	}
	return Event{}, false
}

// withdrawn keeps the entry of an event that was taken back, without its effect.
func (f *folder) withdrawn(e Event) error {
	if e.V != bodyFormat {
		return fmt.Errorf("version %d of this event is not known; use a newer program", e.V)
	}
	body, err := anyBody(e)
	if err != nil {
		return err
	}
	f.add(e, "", -1, body)
	last := &f.j.Entries[len(f.j.Entries)-1]
	last.Back, last.Rig = true, f.j.Rig
	return nil
}

// takesBack keeps the entry of the event that takes another back.
func (f *folder) takesBack(e Event) error {
	if e.V != bodyFormat {
		return fmt.Errorf("version %d of this event is not known; use a newer program", e.V)
	}
	body, err := bodyOf[WithdrawnBody](e)
	if err != nil {
		return err
	}
	f.add(e, "", -1, body)
	f.j.Entries[len(f.j.Entries)-1].Rig = f.j.Rig
	return nil
}

// anyBody decodes the body of an event of any kind but an opening.
func anyBody(e Event) (any, error) {
	switch e.Kind {
	case Took:
		return bodyOf[ReadingBody](e)
	case FoundRig:
		return bodyOf[RigBody](e)
	case CouldNot:
		return bodyOf[CouldNotBody](e)
	case Corrected:
		return bodyOf[CorrectBody](e)
	case Repaired:
		return bodyOf[RepairBody](e)
	case Waits:
		return bodyOf[WaitsBody](e)
	case Proved:
		return bodyOf[ProvedBody](e)
	case Signed:
		return bodyOf[SignedBody](e)
	case Reopened:
		return bodyOf[ReopenedBody](e)
	case Identified:
		return bodyOf[IdentifiedBody](e)
	}
	return nil, fmt.Errorf("kind %q is not known; use a newer program", e.Kind)
}

func bodyOf[T any](e Event) (any, error) {
	var b T
	err := decode(e, &b)
	return b, err
}

// close applies the kinds of event that end a job or let it rest.
func (f *folder) close(e Event) error {
	body, err := anyBody(e)
	if err != nil {
		return err
	}
	switch b := body.(type) {
	case WaitsBody:
		f.j.Waits = b
		if b.For == "nothing" {
			f.j.Waits = WaitsBody{}
		}
	case ProvedBody:
		for _, id := range b.Readings {
			if _, ok := f.j.Reading(id); !ok {
				return fmt.Errorf("no earlier reading is called %s", id)
			}
		}
		f.j.Proved = &b
	case SignedBody:
		if sheet := bytes.TrimSpace(b.Report); len(sheet) == 0 || string(sheet) == "null" || !json.Valid(sheet) {
			return fmt.Errorf("what was signed is not in it")
		}
		f.j.Signed, f.j.Waits = &b, WaitsBody{}
	case ReopenedBody:
		return f.reopen(e, b)
	}
	f.add(e, "", -1, body)
	return nil
}

// reopen opens a signed job again. The vehicle was away: nobody has seen how it
// stands, so it is taken as it is at an opening. A hook-up from before the
// signature that still counted could leave out a line that makes it safe.
func (f *folder) reopen(e Event, b ReopenedBody) error {
	switch {
	case f.j.Signed == nil && !b.Elsewhere:
		return errors.New("the job is not signed, so there is nothing to reopen")
	case strings.TrimSpace(b.Why) == "":
		return errors.New("it does not say why the job is reopened")
	case b.Complaint != "" && !slices.Contains(ComplaintNow, b.Complaint):
		return fmt.Errorf("that the complaint is %q is not known", b.Complaint)
	}
	f.goesOn()
	if b.Complaint == back {
		f.cameBack()
	}
	f.j.Rig, f.j.Known, f.j.Leads = f.j.System.Rig.Rest, 0, nil
	f.add(e, "", -1, b)
	return nil
}

// cameBack takes from the repairs what was said of the complaint: it is there after
// the last of them, and what went away after an earlier one was away for a while
// (decision 044). Where the last was done in words only, the last one that is on the
// list says the same: the one in words left the faults of the list as they were.
func (f *folder) cameBack() {
	r := f.j.Repairs
	listed := len(r) - 1
	for listed >= 0 && repairOf(f.j.System, r[listed]) == "" {
		listed--
	}
	for i := range r {
		now := r[i].Counts
		switch {
		case i == listed || i == len(r)-1:
			now = "no"
		case now == "yes":
			now = "unknown"
		}
		r[i].Back = r[i].Back || now != r[i].Counts
		r[i].Counts = now
	}
}

// goesOn is called for whatever changes the vehicle or what is known of it: the
// job waits no longer, and a proof or a signature covers what stood before.
func (f *folder) goesOn() { f.j.Waits, f.j.Proved, f.j.Signed = WaitsBody{}, nil, nil }
