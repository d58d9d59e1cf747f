package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path"

	"chargewright/job"
	"chargewright/journal"
	"chargewright/problem"
	sheets "chargewright/report"
	"chargewright/store"
	"chargewright/system"
)

// fromJournal reads a job of a workshop; it reads only. Names and plate come from
// the table beside the journal.
func (c *reportCmd) fromJournal(ctx context.Context, e *env, k *sheets.Case, cover *sheets.Cover) (err error) {
	db, err := store.OpenRead(ctx, c.Data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	book := journal.OpenRead(db)
	stream, err := c.find(ctx, book)
	if err != nil {
		return err
	}
	if k.Events, err = book.Read(ctx, stream, 0); err != nil {
		return err
	}
	if k.Shelf, err = e.jobShelf(path.Dir(c.Data), "", c.Practice); err != nil {
		return err
	}
	var b job.OpenedBody
	if len(k.Events) == 0 || json.Unmarshal(k.Events[0].Body, &b) != nil {
		return problem.List{{What: stream + " is no job", Instead: "the id of a job"}}
	}
	sys, err := pinnedSystem(ctx, book, b)
	if err != nil {
		return err
	}
	k.Shelf.System = func(string) (*system.System, error) { return sys, nil }
	if b.Customer == "" {
		return nil
	}
	whose, err := book.Customer(ctx, b.Customer)
	if errors.Is(err, journal.ErrUnknown) {
		return nil
	}
	cover.Customer, cover.Plate = whose.Name, whose.Plate
	return err
}

// find is the stream of a job that is named as its opening names it, or by its
// stream.
func (c *reportCmd) find(ctx context.Context, book *journal.Store) (string, error) {
	line, err := book.Line(ctx, c.Job)
	if err == nil {
		return line.Stream, nil
	}
	if !errors.Is(err, journal.ErrUnknown) {
		return "", err
	}
	var found, known []string
	for q := (journal.Query{Limit: 200}); ; {
		lines, more, err := book.Jobs(ctx, q)
		if err != nil {
			return "", err
		}
		for _, l := range lines {
			known = append(known, l.Job)
			if l.Job == c.Job {
				found = append(found, l.Stream)
			}
			q.Before = l.Place
		}
		if !more || len(lines) == 0 {
			break
		}
	}
	switch len(found) {
	case 0:
		return "", unknown("job", c.Job, known)
	case 1:
		return found[0], nil
	}
	return "", &coded{exitConflict, fmt.Errorf("%d jobs are called %s: name one by its stream, %v", len(found), c.Job, found)}
}

// pinnedSystem is the system with the bytes that a job was opened with.
func pinnedSystem(ctx context.Context, book *journal.Store, b job.OpenedBody) (*system.System, error) {
	sum, err := journal.ParseSum(b.SHA256)
	if err != nil {
		return nil, err
	}
	data, err := book.Content(ctx, sum)
	if err != nil {
		return nil, err
	}
	return system.Parse(b.System+".yaml", data)
}
