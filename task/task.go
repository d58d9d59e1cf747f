// Package task keeps and takes long work: what somebody waits for on another page,
// what has to be done though nobody asks again, what is done at night. A task is added
// in the transaction of the row that it is about, so that there is both or neither; it
// is done by whichever process takes it, and by another when that one dies.
//
// There are two queues behind one interface: River's tables on PostgreSQL, from which
// any number of servers and workers take, and a table of our own in the SQLite file,
// from which the program itself takes (decision 041). A task may be done twice: a
// process that was thought dead may not be. So whatever a task does must be such that
// doing it again does no harm.
//
// In this package a task is never called a job, as River calls it: a job is a
// vehicle's. River's word stands in river.go alone.
//
// Open task.go first, then table.go and river.go.
package task

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"sync/atomic"
	"time"

	"chargewright/store"
)

// Task is something to be done.
type Task struct {
	Kind string
	Key  string    // what it is about; there is one at most of a kind that is not done
	Due  time.Time // not before
}

// Kind is how the tasks of a kind are done.
type Kind struct {
	Name   string
	Do     func(ctx context.Context, key string) error // an error: it is tried again
	Within time.Duration                               // after that it is broken off, and taken as left by somebody who died
	Again  time.Duration                               // how long after its first failure it is tried again
	Tries  int                                         // how often it is tried at most
}

// mostAgain is how many times Again it is left alone at most: each failure adds one.
const mostAgain = 6

// after is how long a task is left alone after a failure.
func (k Kind) after(tries int) time.Duration {
	return k.Again * time.Duration(min(max(tries, 1), mostAgain))
}

// Queue is where tasks wait.
type Queue interface {
	// Add adds tasks within a transaction. One that waits already, or is being done, is
	// not added a second time.
	Add(ctx context.Context, tx *sql.Tx, tasks ...Task) error
	// Take does tasks, so many at once, until ctx ends. Then it begins no more, waits a
	// little for those that are being done, and leaves the others to whoever is there.
	Take(ctx context.Context, atOnce int, kinds ...Kind) error
	// Waiting counts the tasks that are due or being done, by whomever.
	Waiting(ctx context.Context) (int, error)
	// Counts is what this program has done of a kind.
	Counts(kind string) Counts
}

// Counts is what became of tasks.
type Counts struct{ Done, Failed int64 }

// endWithin is how long tasks that are being done may take when the program stops:
// half of what a server has for it.
const endWithin = 5 * time.Second

// On is the queue of a database.
func On(db *store.DB, now func() time.Time, log *slog.Logger) (Queue, error) {
	c := &common{log: log, end: endWithin}
	if db.Server() != nil {
		return onRiver(db, c)
	}
	return &table{common: c, db: db, now: now, news: make(chan struct{}, 1)}, nil
}

// common is what both queues have.
type common struct {
	log    *slog.Logger
	end    time.Duration // endWithin, but for tests
	quick  bool          // no wait that spreads servers that start at once: for tests
	counts counts
}

// Counts implements Queue.
func (c *common) Counts(kind string) Counts {
	n := c.counts.of(kind)
	return Counts{Done: n.done.Load(), Failed: n.failed.Load()}
}

// errLeft is what do ends with when the program stops before the task is done.
var errLeft = errors.New("left to others")

// do does one task. What was broken off goes on behind: most work cannot be stopped.
// Its key stands in no log: who has one may ask for what it is about.
func (c *common) do(ctx context.Context, k Kind, key string, last bool) error {
	within, cancel := context.WithTimeout(ctx, k.Within)
	defer cancel()
	ended := make(chan error, 1)
	go func() { ended <- guarded(within, k, key) }()
	var err error
	select {
	case err = <-ended:
	case <-within.Done():
		err = fmt.Errorf("it took longer than %v", k.Within)
	}
	if err != nil && ctx.Err() != nil {
		return errLeft
	}
	if n := c.counts.of(k.Name); err == nil {
		n.done.Add(1)
	} else {
		n.failed.Add(1)
		c.log.Error("a task was not done", "kind", k.Name, "why", err, "tried again", !last)
	}
	return err
}

// guarded turns a panic into an error, so that one task does not end the program.
func guarded(ctx context.Context, k Kind, key string) (err error) {
	defer func() {
		if why := recover(); why != nil {
			err = fmt.Errorf("it broke off: %v\n%s", why, debug.Stack())
		}
	}()
	return k.Do(ctx, key)
}

// kindOf finds a kind among those that are taken.
func kindOf(kinds []Kind, name string) (Kind, bool) {
	for _, k := range kinds {
		if k.Name == name {
			return k, true
		}
	}
	return Kind{}, false
}

type count struct{ done, failed atomic.Int64 }
