package main

import (
	"context"
	"errors"
	"fmt"

	"chargewright/journal"
	"chargewright/problem"
)

type journalCmd struct {
	Verify verifyCmd `cmd:"" help:"Hold every event of a journal against its hashes."`
}

type verifyCmd struct {
	where `embed:""`
	Head  string `help:"A head that was written down earlier (a report, a backup): what came up to it must be there unchanged." placeholder:"HASH"`
	JSON  bool   `name:"json" help:"Print JSON instead of text."`
}

// Run verifies a journal; it reads only.
func (c *verifyCmd) Run(e *env) error {
	var head journal.Sum
	if c.Head != "" {
		var err error
		if head, err = journal.ParseSum(c.Head); err != nil {
			return usage("--head: %v", err)
		}
	}
	db, err := c.openRead(context.Background())
	if err != nil {
		return err
	}
	r, err := journal.OpenRead(db).Verify(context.Background(), head)
	if err = errors.Join(err, db.Close()); err != nil {
		return fmt.Errorf("the journal in %s cannot be read to its end: %w", db.Name(), err)
	}
	if c.JSON {
		err = printJSON(e.stdout, c.out(r))
	} else {
		err = c.print(r).to(e.stdout)
	}
	if err != nil {
		return err
	}
	return c.breaks(r, db.Name())
}

// breaks lists what was found. A head that the journal never had, and nothing
// else, is a conflict: one of the two is not what it is taken for.
func (c *verifyCmd) breaks(r journal.Report, file string) error {
	if r.At < 0 && len(r.Breaks) == 1 {
		return &coded{exitConflict, fmt.Errorf("%s: %w", file, &r.Breaks[0])}
	}
	if c.JSON && len(r.Breaks) > 0 {
		return errors.New(plural(len(r.Breaks), "break", "breaks"))
	}
	var list problem.List
	for _, b := range r.Breaks {
		list.Add(problem.Problem{File: file, What: b.Error()})
	}
	return list.Err()
}

func (c *verifyCmd) print(r journal.Report) *text {
	t := &text{}
	t.line(0, "%s in %s, %s kept", plural(int(r.Head.Events), "event", "events"), plural(r.Streams, "stream", "streams"), plural(r.Contents, "file", "files"))
	t.line(0, "head %s", r.Head.Sum)
	switch {
	case c.Head == "":
		t.line(0, "no head was given: whether the end was cut off, or all was recorded anew, cannot be told")
	case r.At >= 0:
		t.line(0, "the head given was that of event %d: all up to it is there", r.At)
	}
	if len(r.Breaks) == 0 {
		t.line(0, "no break")
	} else {
		t.line(0, "%s", plural(len(r.Breaks), "break", "breaks"))
	}
	return t
}

// verifyOut is what --json prints; schema output-journal-verify.
type verifyOut struct {
	Format  int        `json:"format"`
	Events  int64      `json:"events"`
	Streams int        `json:"streams"`
	Files   int        `json:"files"`
	Head    string     `json:"head"`
	At      *int64     `json:"at,omitempty"` // of the head that was asked for
	Breaks  []breakOut `json:"breaks"`
}

type breakOut struct {
	Stream string `json:"stream,omitempty"`
	Event  int    `json:"event,omitempty"`
	Place  int64  `json:"place,omitempty"`
	What   string `json:"what"`
}

func (c *verifyCmd) out(r journal.Report) verifyOut {
	o := verifyOut{Format: outputFormat, Events: r.Head.Events, Streams: r.Streams, Files: r.Contents, Head: r.Head.Sum.String(), Breaks: []breakOut{}}
	if c.Head != "" && r.At >= 0 {
		o.At = &r.At
	}
	for _, b := range r.Breaks {
		o.Breaks = append(o.Breaks, breakOut{b.Stream, b.Seq, b.Place, b.What})
	}
	return o
}
