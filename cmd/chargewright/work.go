package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/signal"
	"syscall"

	"chargewright/store"
	"chargewright/web"
)

// workCmd takes tasks of a workshop on PostgreSQL and serves no pages.
type workCmd struct {
	Database string `help:"Address of the workshop's PostgreSQL database, such as postgres://user@host/workshop (or in CHARGEWRIGHT_DATABASE)." placeholder:"URL"`
	AtOnce   int    `name:"at-once" help:"How many tasks are done at once." default:"2" placeholder:"N"`
	Workshop string `help:"The workshop's name, as its servers have it." default:"Workshop"`
	Metrics  string `help:"Address on which /metrics and /healthz answer, such as 127.0.0.1:9412." placeholder:"ADDR"`
	Log      string `help:"How the log is written: text or json." enum:"text,json" default:"text" placeholder:"FORM"`
}

// Run implements the command.
func (c *workCmd) Run(e *env) error {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	return c.work(ctx, e)
}

// work takes tasks until ctx ends.
func (c *workCmd) work(ctx context.Context, e *env) (err error) {
	if c.AtOnce < 1 {
		return usage("--at-once %d: a worker does one task at once at least", c.AtOnce)
	}
	place := cmp.Or(c.Database, os.Getenv(databaseVariable))
	switch {
	case place == "":
		return usage("which workshop? Give its database with --database URL")
	case !store.IsURL(place):
		return usage("a workshop in a directory does its tasks itself: a worker is for one on PostgreSQL, --database postgres://USER@HOST/DATABASE")
	}
	log := logger(e, c.Log)
	s, err := c.open(ctx, e, place, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	if err := serveMetrics(ctx, s, c.Metrics, log); err != nil {
		return err
	}
	log.Info("working", "database", s.name, "at once", c.AtOnce, "version", version)
	tellSystem(log, "READY=1")
	<-ctx.Done()
	log.Info("stopping")
	tellSystem(log, "STOPPING=1")
	return nil // closing waits for what is being done, a little
}

// open opens the database and has tasks taken from it, with what a server answers forms by.
func (c *workCmd) open(ctx context.Context, e *env, place string, log *slog.Logger) (s *shop, err error) {
	s = &shop{}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.close())
		}
	}()
	x, err := openBooks(ctx, s, place, log)
	if err != nil {
		return s, err
	}
	if x.db.Begun() {
		_, _ = fmt.Fprintf(e.stderr, "No workshop was in %s: a new one, without jobs, was begun there.\n", s.name)
	}
	config := x.config(log)
	config.AtOnce, config.Workshop, config.Held = c.AtOnce, c.Workshop, e.held
	if s.pages, err = web.New(config); err != nil {
		return s, err
	}
	s.ends = append(s.ends, func() error { s.pages.Close(); return nil })
	return s, nil
}
