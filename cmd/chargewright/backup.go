package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"chargewright/account"
	"chargewright/journal"
	"chargewright/store"
)

type backupCmd struct {
	where   `embed:""`
	File    string `arg:"" help:"The file to write." placeholder:"FILE"`
	Replace bool   `help:"Write over FILE when it exists."`
}

// Run copies a journal, also while another program writes to it. The copy is
// verified before it gets its name.
func (c *backupCmd) Run(e *env) error {
	ctx := context.Background()
	db, err := c.openRead(ctx)
	if err != nil {
		return err
	}
	var r journal.Report
	err = db.Backup(ctx, c.File, c.Replace, func(copied *store.DB) error {
		r, err = journal.OpenRead(copied).Verify(ctx, journal.Sum{})
		if err == nil && len(r.Breaks) > 0 {
			err = fmt.Errorf("nothing was written, since the journal has %s: see chargewright journal verify %s", plural(len(r.Breaks), "break", "breaks"), c.flag())
		}
		return err
	})
	if errors.Is(err, store.ErrExists) {
		return &coded{exitConflict, fmt.Errorf("%w; write over it with --replace, or give another name", err)}
	}
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	t := &text{}
	t.line(0, "%s: %s in %s, verified", c.File, plural(int(r.Head.Events), "event", "events"), plural(r.Streams, "stream", "streams"))
	t.line(0, "head %s", r.Head.Sum)
	t.line(0, "write the head down elsewhere: journal verify --head shows by it that nothing up to here is missing")
	return t.to(e.stdout)
}

type restoreCmd struct {
	where `embed:""`
	File  string `arg:"" help:"A file that backup has written." placeholder:"FILE"`
	Head  string `help:"The head that backup printed when it wrote the file." placeholder:"HASH"`
}

// Run puts a backup where no workshop is. It is verified before it takes its
// place; on PostgreSQL what stands there is verified, too.
func (c *restoreCmd) Run(e *env) error {
	ctx := context.Background()
	place, err := c.place()
	if err != nil {
		return err
	}
	var head journal.Sum
	if c.Head != "" {
		if head, err = journal.ParseSum(c.Head); err != nil {
			return usage("--head: %v", err)
		}
	}
	var r journal.Report
	err = store.Restore(ctx, c.File, place, func(copied *store.DB) error {
		if r, err = journal.OpenRead(copied).Verify(ctx, head); err != nil || len(r.Breaks) == 0 {
			return err
		}
		if r.At < 0 && len(r.Breaks) == 1 {
			return &coded{exitConflict, fmt.Errorf("nothing was restored: %w", &r.Breaks[0])}
		}
		return fmt.Errorf("nothing was restored, since the journal in %s has %s: see chargewright journal verify --data %s",
			c.File, plural(len(r.Breaks), "break", "breaks"), c.File)
	})
	if errors.Is(err, store.ErrInUse) {
		return &coded{exitConflict, fmt.Errorf("%w; give a directory or a schema in which none is", err)}
	}
	if err != nil {
		return err
	}
	if err := signOutAll(ctx, place); err != nil {
		return err
	}
	t := &text{}
	t.line(0, "%s in %s, %s kept: restored and verified", plural(int(r.Head.Events), "event", "events"), plural(r.Streams, "stream", "streams"), plural(r.Contents, "file", "files"))
	t.line(0, "head %s", r.Head.Sum)
	if c.Head == "" {
		t.line(0, "no head was given: whether the copy is the one that was made, or an older one, cannot be told")
	}
	t.line(0, "everybody has to sign in anew, with name and password: passkeys are added anew")
	return t.to(e.stdout)
}

// signOutAll ends the sessions of a workshop that was restored, and brings its
// list of jobs to this program's rules.
func signOutAll(ctx context.Context, place string) error {
	db, err := store.Open(ctx, place)
	if err != nil {
		return err
	}
	_, err = journal.Open(ctx, db, time.Now)
	if err == nil {
		err = account.New(db, time.Now).EndAll(ctx)
	}
	return errors.Join(err, db.Close())
}
