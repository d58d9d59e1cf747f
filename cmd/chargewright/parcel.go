package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"chargewright/job"
	"chargewright/journal"
	"chargewright/problem"
	"chargewright/system"
)

type exportCmd struct {
	where        `embed:""`
	Job          string `arg:"" help:"The job: its number as the pages show it, or the name of its stream." placeholder:"JOB"`
	File         string `arg:"" help:"The file to write." placeholder:"FILE"`
	WithCustomer bool   `help:"Let the customer's name, plate and contact go along."`
	Replace      bool   `help:"Write over FILE when it exists."`
}

// Run writes one job as a file. It reads only.
func (c *exportCmd) Run(e *env) error {
	ctx := context.Background()
	if _, err := os.Lstat(c.File); err == nil && !c.Replace {
		return &coded{exitConflict, fmt.Errorf("%s: the file exists already; write over it with --replace, or give another name", c.File)}
	}
	db, err := c.openRead(ctx)
	if err != nil {
		return err
	}
	p, err := c.pack(ctx, journal.OpenRead(db))
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	p.Written = time.Now().Truncate(time.Second)
	if err := writeWhole(c.File, p); err != nil {
		return err
	}
	events, err := p.Events()
	if err != nil {
		return err
	}
	t := &text{}
	t.line(0, "%s: job %s, %s", c.File, p.Stream, plural(len(events), "event", "events"))
	t.line(0, "hash %s", p.Last())
	if p.Customer != nil {
		t.line(0, "name, plate and contact of the customer stand in it")
	} else {
		t.line(0, "no name, plate or contact of a customer stands in it; the notes and the customer's words do")
	}
	return t.to(e.stdout)
}

func (c *exportCmd) pack(ctx context.Context, book *journal.Store) (*journal.Parcel, error) {
	stream, err := jobStream(ctx, book, c.Job)
	if err != nil {
		return nil, err
	}
	p, err := book.Pack(ctx, stream, c.WithCustomer, version)
	if err != nil {
		return nil, fmt.Errorf("job %s cannot be exported: %w", c.Job, err)
	}
	return p, nil
}

// jobStream finds a job by the name of its stream, or by its number where one job
// has it.
func jobStream(ctx context.Context, book *journal.Store, name string) (string, error) {
	if _, err := book.Line(ctx, name); !errors.Is(err, journal.ErrUnknown) {
		return name, err
	}
	var found []string
	for q := (journal.Query{Text: name}); ; {
		lines, more, err := book.Jobs(ctx, q)
		if err != nil {
			return "", err
		}
		for _, l := range lines {
			if strings.EqualFold(l.Job, strings.TrimSpace(name)) {
				found = append(found, l.Stream)
			}
		}
		if !more {
			break
		}
		q.Before = lines[len(lines)-1].Place
	}
	switch len(found) {
	case 0:
		return "", fmt.Errorf("no job has the number or the stream %q: the list of jobs shows the numbers", name)
	case 1:
		return found[0], nil
	}
	return "", &coded{exitConflict, fmt.Errorf("%d jobs have the number %s: name one of their streams: %s", len(found), name, strings.Join(found, ", "))}
}

// writeWhole writes a file that is there whole and synced, or not at all. Only
// its owner can read it.
func writeWhole(file string, p *journal.Parcel) error {
	dir, base := filepath.Split(file)
	if dir == "" {
		dir = "."
	}
	f, err := os.CreateTemp(dir, "."+base+".part-*")
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", file, plain(err))
	}
	err = errors.Join(p.Write(f), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), file)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("%s cannot be written: %w", file, plain(err)), os.Remove(f.Name()))
	}
	return nil
}

type importCmd struct {
	where        `embed:""`
	File         string `arg:"" help:"A file that export has written." placeholder:"FILE"`
	WithCustomer bool   `help:"Take over the customer's name, plate and contact, where the file has them."`
	Hash         string `help:"The hash of the last event, as export printed it: the file must end with it." placeholder:"HASH"`
}

// Run takes a job over, also while the program runs.
func (c *importCmd) Run(e *env) error {
	ctx := context.Background()
	p, err := c.read(e)
	if err != nil {
		return err
	}
	db, err := c.open(ctx)
	if err != nil {
		return err
	}
	book, err := journal.Open(ctx, db, time.Now)
	var got journal.Unpacked
	if err == nil {
		got, err = book.Unpack(ctx, p, c.WithCustomer)
	}
	if err = errors.Join(err, db.Close()); err != nil {
		return taken(c.File, err)
	}
	t := &text{}
	if got.Added == 0 {
		t.line(0, "job %s was here already with all of its events; nothing was added", p.Stream)
	} else {
		t.line(0, "job %s: %s added, the chain verified", p.Stream, plural(got.Added, "event", "events"))
	}
	t.line(0, "hash %s", p.Last())
	t.line(0, "head %s", got.Head.Sum)
	if said := c.customer(p, got.Customer); said != "" {
		t.line(0, "%s", said)
	}
	return t.to(e.stdout)
}

// taken says why nothing was taken over: what cannot both be is a conflict.
func taken(file string, err error) error {
	var d *journal.Diverged
	var r *journal.Reused
	if errors.As(err, &d) || errors.As(err, &r) {
		return &coded{exitConflict, fmt.Errorf("%s: %w", file, err)}
	}
	return err
}

func (c *importCmd) customer(p *journal.Parcel, took journal.Took) string {
	switch {
	case p.Customer == nil:
		return ""
	case !c.WithCustomer:
		return "the file holds the customer's name, plate and contact; they were not taken: --with-customer takes them"
	case took == journal.TookNew:
		return "the customer's name, plate and contact were taken"
	case took == journal.TookErased:
		return "the customer was erased here, and stays so"
	case took == journal.TookKept:
		return "another name, plate or contact stands here for the customer: that was left"
	}
	return ""
}

// read reads the file, with everything that is wrong with it as the problem. A
// job that this program cannot read is not taken over either.
func (c *importCmd) read(e *env) (*journal.Parcel, error) {
	info, err := fs.Stat(e.fs, e.name(c.File))
	if err == nil && info.Size() > journal.MaxParcel {
		return nil, fmt.Errorf("%s has %d bytes: at most %d are read", c.File, info.Size(), journal.MaxParcel)
	}
	data, err := e.read(c.File)
	if err != nil {
		return nil, err
	}
	p, err := journal.ParseParcel(c.File, data)
	if err != nil {
		return nil, err
	}
	if c.Hash != "" {
		want, err := journal.ParseSum(c.Hash)
		if err != nil {
			return nil, usage("--hash: %v", err)
		}
		if want != p.Last() {
			return nil, &coded{exitConflict, fmt.Errorf("%s ends with the event of hash %v, not %v: it is another job, or one that was made up anew", c.File, p.Last(), want)}
		}
	}
	if err := foldable(p); err != nil {
		return nil, problem.List{{File: c.File, What: "this program cannot read the job: " + err.Error()}}
	}
	return p, nil
}

// foldable says why a job cannot be read by this program.
func foldable(p *journal.Parcel) error {
	events, err := p.Events()
	if err != nil {
		return err
	}
	shelf, err := job.Library()
	if err != nil {
		return err
	}
	var b job.OpenedBody
	if err := json.Unmarshal(events[0].Body, &b); err != nil {
		return err
	}
	sum, err := journal.ParseSum(b.SHA256)
	if err != nil {
		return err
	}
	sys, err := system.Parse(b.System+".yaml", p.Content(sum))
	if err != nil {
		return err
	}
	shelf.System = func(string) (*system.System, error) { return sys, nil }
	_, err = job.Fold(events, shelf)
	return err
}
