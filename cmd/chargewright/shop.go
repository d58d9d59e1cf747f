package main

import (
	"context"
	"errors"
	"log/slog"
	"sync/atomic"
	"time"

	"chargewright/account"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/store"
	"chargewright/task"
	"chargewright/web"
)

// shop is an open workshop.
type shop struct {
	pages *web.Server
	name  string // of its database
	ends  []func() error
}

func (s *shop) close() error {
	var all []error
	for i := len(s.ends) - 1; i >= 0; i-- {
		all = append(all, s.ends[i]())
	}
	return errors.Join(all...)
}

// clock is the time of the workshop; a demonstration sets it while it makes up
// what happened before.
type clock struct{ set atomic.Pointer[time.Time] }

func (c *clock) now() time.Time {
	if t := c.set.Load(); t != nil {
		return *t
	}
	return time.Now()
}

// books are what a server and a worker of a workshop stand on alike.
type books struct {
	db    *store.DB
	book  *journal.Store
	shelf job.Shelf
	tasks task.Queue
	tick  *clock
}

// openBooks opens the database of a workshop; it is closed with the shop.
func openBooks(ctx context.Context, s *shop, place string, log *slog.Logger) (x *books, err error) {
	x = &books{tick: &clock{}}
	if x.db, err = store.Open(ctx, place); err != nil {
		return x, err
	}
	s.ends, s.name = append(s.ends, x.db.Close), x.db.Name()
	for _, w := range x.db.Warnings() {
		log.Warn(w, "database", s.name)
	}
	if x.book, err = journal.Open(ctx, x.db, x.tick.now); err != nil {
		return x, err
	}
	if x.tasks, err = task.On(x.db, x.tick.now, log); err != nil {
		return x, err
	}
	x.shelf, err = job.Library()
	return x, err
}

// config is what both give the pages.
func (x *books) config(log *slog.Logger) web.Config {
	return web.Config{
		Journal: x.book, Accounts: account.New(x.db, x.tick.now), Shelf: x.shelf, Tasks: x.tasks, Now: x.tick.now, Log: log, Version: version, Metrics: registry(),
	}
}
