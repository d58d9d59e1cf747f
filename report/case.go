package report

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"
	"time"

	"chargewright/advice"
	"chargewright/job"
)

// Case is a job with what its papers are made from. The same case gives the same
// papers, byte for byte.
type Case struct {
	Events     []job.Event
	Shelf      job.Shelf
	Prepared   *advice.Prepared  // of the job's system; nil = made here, which takes a while
	Engine     string            // version of the program
	Zone       *time.Location    // that times are said in; nil = as they were recorded
	Calibrated map[string]string // by instrument id: when it was calibrated, as somebody said
	Standing   *advice.Standing  // of these events, where it is known; nil = worked out here
}

// desk is a case that was opened.
type desk struct {
	Case
	events []job.Event // those that count: one of each id
	j      *job.Job
	s      *advice.Standing
}

// open folds the case and asks for advice. The error is an *advice.Refusal when
// the vehicle is none for the system.
func (c Case) open(ctx context.Context) (*desk, error) {
	d, err := c.fold()
	if err == nil && d.s == nil {
		d.s, err = advice.Stand(ctx, d.input(d.j))
	}
	if err != nil {
		return nil, err
	}
	return d, nil
}

// fold opens a case without asking for advice, which takes a while.
func (c Case) fold() (*desk, error) {
	d := &desk{Case: c}
	seen := map[string]bool{}
	for _, e := range c.Events {
		if e.ID == "" || !seen[e.ID] {
			d.events = append(d.events, e)
		}
		seen[e.ID] = true
	}
	var err error
	if d.j, err = job.Fold(c.Events, c.Shelf); err != nil {
		return nil, err
	}
	if c.Standing != nil {
		d.s, d.Prepared = c.Standing, c.Standing.In.Prepared
		return d, nil
	}
	if d.Prepared == nil {
		in := d.input(d.j)
		d.Prepared, err = advice.Prepare(d.j.System, in.Practice, in.Catalogue, in.Settings)
	}
	return d, err
}

// input is a job as advice wants it.
func (d *desk) input(j *job.Job) advice.Input {
	in := j.Input(d.Shelf.PracticeOf(j.System), d.Shelf.Catalogue)
	in.Prepared = d.Prepared
	return in
}

// Customer makes the customer's sheet of a case: what was signed where the last
// thing that happened is a signature, else as the job stands now.
func Customer(ctx context.Context, c Case) (Report, error) {
	d, err := c.fold()
	if err != nil {
		return Report{}, err
	}
	if d.j.Signed != nil {
		return Parse(d.j.Signed.Report)
	}
	if d.s == nil {
		if d.s, err = advice.Stand(ctx, d.input(d.j)); err != nil {
			return Report{}, err
		}
	}
	r := of(d.j, d.s, len(d.events), c.Engine, c.Zone)
	r.EventsSHA = EventsSHA(c.Events)
	return r, nil
}

// EventsSHA is the hash of what happened to a job: SHA-256 over the id, kind,
// version and body of every event in order, each behind its length in bytes and a
// colon. It stands on every paper of the job, so that they are seen to belong
// together.
func EventsSHA(events []job.Event) string {
	h := sha256.New()
	put := func(s string) { _, _ = fmt.Fprintf(h, "%d:%s", len(s), s) } // a hash takes everything
	for _, e := range events {
		put(e.ID)
		put(string(e.Kind))
		put(strconv.Itoa(e.V))
		put(string(e.Body))
	}
	return hex.EncodeToString(h.Sum(nil))
}

// LastRecorded is when the last event was recorded: the date of a paper that is
// to be the same bytes whenever it is made. For a job that no journal recorded it
// is when it was opened, or zero.
func LastRecorded(events []job.Event, opened time.Time) time.Time {
	for i := len(events) - 1; i >= 0; i-- {
		if !events[i].Recorded.IsZero() {
			return events[i].Recorded
		}
	}
	return opened
}

// Front completes a cover from what happened: the date where it has none, and who
// signed, when, with which words, where the job stands signed.
func (c Case) Front(cover Cover) (Cover, error) {
	j, err := job.Fold(c.Events, c.Shelf)
	if err != nil {
		return cover, err
	}
	date := LastRecorded(c.Events, j.Opened)
	if j.Signed != nil {
		e := signature(j)
		cover.Note, cover.Head = j.Signed.Note, j.Signed.Head
		date, cover.Signed = e.Recorded, "signed"
		if !e.Recorded.IsZero() {
			cover.Signed = in(e.Recorded, c.Zone).Format("2 January 2006, 15:04")
		}
		if name := cover.People[e.Person]; name != "" {
			cover.Signed += ", by " + name
		} else if e.Person != "" {
			cover.Signed += ", by account " + e.Person
		}
	}
	if cover.Date.IsZero() && !date.IsZero() {
		cover.Date = in(date, c.Zone)
	}
	if cover.Zone == nil {
		cover.Zone = c.Zone
	}
	return cover, nil
}

// signature is the last one of a signed job.
func signature(j *job.Job) job.Entry {
	for i := len(j.Entries) - 1; i >= 0; i-- {
		if j.Entries[i].Kind == job.Signed {
			return j.Entries[i]
		}
	}
	return job.Entry{}
}
