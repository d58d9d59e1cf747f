package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"chargewright/journal"
)

type eraseCmd struct {
	where `embed:""`
	Job   string `arg:"" help:"The job: its number as the pages show it, or the name of its stream." placeholder:"JOB"`
}

// Run erases name, plate and contact of a job's customer, also while the program
// runs. What was read and done stays, and with it every hash.
func (c *eraseCmd) Run(e *env) error {
	ctx := context.Background()
	db, err := c.openRead(ctx) // where no workshop is, none is begun
	if err == nil {
		err = db.Close()
	}
	if err != nil {
		return err
	}
	if db, err = c.open(ctx); err != nil {
		return err
	}
	book, err := journal.Open(ctx, db, time.Now)
	t := &text{}
	if err == nil {
		err = c.erase(ctx, book, t)
	}
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	return t.to(e.stdout)
}

func (c *eraseCmd) erase(ctx context.Context, book *journal.Store, t *text) error {
	stream, err := jobStream(ctx, book, c.Job)
	if err != nil {
		return err
	}
	line, err := book.Line(ctx, stream)
	if err != nil {
		return err
	}
	if line.Customer == "" {
		return fmt.Errorf("job %s has no customer: no name, plate or contact was written when it was opened", c.Job)
	}
	was, err := book.Customer(ctx, line.Customer)
	if err == nil {
		err = book.Erase(ctx, line.Customer) // again, it does what a first time could not finish
	}
	switch {
	case errors.Is(err, journal.ErrUnknown):
		return fmt.Errorf("job %s came without its customer's name: there is nothing to erase", c.Job)
	case err != nil:
		return err
	case was.Erased:
		t.line(0, "job %s: name, plate and contact of its customer were erased before", stream)
	default:
		t.line(0, "job %s: name, plate and contact of its customer are erased", stream)
	}
	t.line(0, "what was read and done stays, and so do notes and the customer's own words;")
	t.line(0, "backups, exports and papers that were made before keep the name")
	return nil
}
