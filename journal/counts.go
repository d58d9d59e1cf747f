package journal

import (
	"errors"
	"sync/atomic"
)

// Counts is what this program has asked of the journal since it opened it.
type Counts struct {
	Appends   int64 // that added something
	Events    int64 // that were added
	Repeated  int64 // events sent again that were there already
	Conflicts int64 // appends refused because others had come in between
	Reused    int64 // appends refused because an id named something else
	Failed    int64 // appends that broke off for another reason
}

// counts are Counts that many may raise at once.
type counts struct{ appends, events, repeated, conflicts, reused, failed atomic.Int64 }

// Counts returns the counts so far.
func (s *Store) Counts() Counts {
	c := &s.counts
	return Counts{c.appends.Load(), c.events.Load(), c.repeated.Load(), c.conflicts.Load(), c.reused.Load(), c.failed.Load()}
}

// add counts an append of some events that ended with err.
func (c *counts) add(a *appending, events int, err error) {
	var moved *Moved
	var reused *Reused
	switch {
	case errors.As(err, &moved):
		c.conflicts.Add(1)
	case errors.As(err, &reused):
		c.reused.Add(1)
	case err != nil:
		c.failed.Add(1)
	default:
		if len(a.rows) > 0 {
			c.appends.Add(1)
		}
		c.events.Add(int64(len(a.rows)))
		c.repeated.Add(int64(events - len(a.rows)))
	}
}
