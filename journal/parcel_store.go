package journal

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"

	"chargewright/job"
)

// Unpacked is what Unpack has done.
type Unpacked struct {
	Added    int // events; 0 when all of them were here
	Events   int // of the job, now
	Head     Head
	Customer Took
}

// Took is what became of a parcel's customer.
type Took string

// What may become of him.
const (
	TookNone   Took = ""       // there was none, or he was not asked for
	TookNew    Took = "taken"  // he was not known here
	TookKept   Took = "kept"   // another name, plate or contact stands here under his id: that stays
	TookSame   Took = "same"   // all of it stands here
	TookErased Took = "erased" // he was erased here, and stays so
)

// Diverged is the refusal of a job that is here too and went on otherwise.
type Diverged struct {
	Stream     string
	Seq        int // the first event that is not the same
	Here, Came job.Event
}

func (d *Diverged) Error() string {
	return fmt.Sprintf("job %s is here already and has another event %d: here %s (%s), recorded %s; in the file %s (%s), recorded %s. Nothing was taken over",
		d.Stream, d.Seq, d.Here.ID, d.Here.Kind, stamp(d.Here.Recorded), d.Came.ID, d.Came.Kind, stamp(d.Came.Recorded))
}

// Unpack takes a parcel over, all of it or nothing: events with their numbers,
// ids, times and hashes, and the bytes that they pin. A job that is here is
// gone on with; one that went on otherwise is a *Diverged; an id that names
// another event here is a *Reused. Taking the same again adds nothing.
func (s *Store) Unpack(ctx context.Context, p *Parcel, withCustomer bool) (out Unpacked, err error) {
	var added []*stored
	err = s.db.Write(ctx, func(tx *sql.Tx) error {
		out, added = Unpacked{}, nil
		fresh, err := p.fresh(ctx, tx)
		if err != nil {
			return err
		}
		if added, err = p.place(ctx, tx, fresh); err != nil {
			return err
		}
		if withCustomer && p.Customer != nil {
			if out.Customer, err = takeOver(ctx, tx, *p.Customer); err != nil {
				return err
			}
		}
		l, err := one(ctx, tx, p.Stream)
		if err != nil {
			return err
		}
		out.Added, out.Events = len(added), l.Seq
		if out.Head, err = tip(ctx, tx); err != nil || len(added) == 0 {
			return err
		}
		return s.db.Announce(ctx, tx)
	})
	if err != nil {
		return Unpacked{}, err
	}
	s.tell(added)
	return out, nil
}

// fresh are the events that are not here, when those that are here are the same.
func (p *Parcel) fresh(ctx context.Context, tx *sql.Tx) ([]*stored, error) {
	if _, err := read(ctx, tx, p.Stream, 0); err != nil { // a broken job is not gone on with
		return nil, err
	}
	n := 0
	err := each(ctx, tx, func(here *stored) error {
		if n++; n > len(p.rows) || bytes.Equal(here.hash, p.rows[n-1].hash) {
			return nil
		}
		a, err := here.event()
		b, err2 := p.rows[n-1].event()
		return errors.Join(err, err2, &Diverged{p.Stream, n, a, b})
	}, "WHERE stream = $1 ORDER BY seq", p.Stream)
	if err != nil {
		return nil, err
	}
	return p.rows[min(n, len(p.rows)):], nil
}

// place puts events at the journal's end.
func (p *Parcel) place(ctx context.Context, tx *sql.Tx, fresh []*stored) (added []*stored, err error) {
	if len(fresh) == 0 {
		return nil, nil
	}
	var twice []error
	for _, e := range fresh {
		was, err := withID(ctx, tx, e.id)
		if err != nil {
			return nil, err
		}
		if was != nil {
			came, err := e.event()
			twice = append(twice, err, &Reused{Before: *was, Now: came, Differ: []string{"stream"}})
		}
	}
	if err := errors.Join(twice...); err != nil {
		return nil, err
	}
	for sum, content := range p.contents {
		if err := keep(ctx, tx, sum, content); err != nil {
			return nil, err
		}
	}
	head, err := tip(ctx, tx)
	if err != nil {
		return nil, err
	}
	place, sum := head.Events, head.Sum
	for _, e := range fresh {
		row := *e
		place++
		row.place = place
		sum = headAfter(sum[:], place, row.hash)
		row.head = bytes.Clone(sum[:])
		added = append(added, &row)
	}
	return added, insert(ctx, tx, p.Stream, added)
}

// takeOver writes a customer who is not known here.
func takeOver(ctx context.Context, tx *sql.Tx, c Customer) (Took, error) {
	here, err := customer(ctx, tx, c.ID)
	switch {
	case errors.Is(err, ErrUnknown):
		return TookNew, setCustomer(ctx, tx, c)
	case err != nil:
		return TookNone, err
	case here.Erased:
		return TookErased, nil
	case here == c:
		return TookSame, nil
	}
	return TookKept, nil
}
