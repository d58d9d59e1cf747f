package journal

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"chargewright/job"
	"chargewright/store"
)

// Store is a journal in a database.
type Store struct {
	db     *store.DB
	now    func() time.Time
	hub    hub
	counts counts
}

// Open opens the journal of a database that is open for writing. When the lines
// of the list were made by other rules than this program's, it makes them anew.
func Open(ctx context.Context, db *store.DB, now func() time.Time) (*Store, error) {
	s := &Store{db: db, now: now}
	if err := s.freshLines(ctx); err != nil {
		return nil, fmt.Errorf("the list of jobs cannot be made: %w", err)
	}
	return s, nil
}

// OpenRead opens the journal of a database that is open for reading.
func OpenRead(db *store.DB) *Store {
	return &Store{db: db, now: func() time.Time { return time.Time{} }}
}

// Head is the state of the whole journal: how many events it holds, and the
// hash that fixes them and their order.
type Head struct {
	Events int64
	Sum    Sum
}

// Head returns the present state. Written down elsewhere (a report, a backup's
// label) it lets Verify tell whether the journal still holds all it held then.
func (s *Store) Head(ctx context.Context) (h Head, err error) {
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		h, err = tip(ctx, tx)
		return err
	})
	return h, err
}

func tip(ctx context.Context, tx *sql.Tx) (h Head, err error) {
	var sum []byte
	err = tx.QueryRowContext(ctx, "SELECT place, head FROM event ORDER BY place DESC LIMIT 1").Scan(&h.Events, &sum)
	if errors.Is(err, sql.ErrNoRows) {
		return Head{}, nil
	}
	copy(h.Sum[:], sum)
	return h, err
}

// tail is the last sequence number of a stream and its hash; 0 and zeros before
// the first event.
func tail(ctx context.Context, tx *sql.Tx, stream string) (seq int, hash []byte, err error) {
	err = tx.QueryRowContext(ctx, "SELECT seq, hash FROM event WHERE stream = $1 ORDER BY seq DESC LIMIT 1", stream).Scan(&seq, &hash)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, make([]byte, sha256.Size), nil
	}
	return seq, hash, err
}

const columns = "place, stream, seq, id, kind, v, body, at, recorded, device, person, seen, engine, prev, hash, head"

// each hands the rows of a query to do, in order.
func each(ctx context.Context, tx *sql.Tx, do func(*stored) error, where string, args ...any) error {
	rows, err := tx.QueryContext(ctx, "SELECT "+columns+" FROM event "+where, args...)
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }() // rows.Err tells more
	for rows.Next() {
		e := &stored{}
		err := rows.Scan(&e.place, &e.stream, &e.seq, &e.id, &e.kind, &e.v, &e.body, &e.at, &e.recorded,
			&e.device, &e.person, &e.seen, &e.engine, &e.prev, &e.hash, &e.head)
		if err != nil {
			return err
		}
		if err := do(e); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Read returns the events of a stream from a sequence number on; from 0 or 1
// all of them, none when the stream has none. Events that are not as they were
// recorded are not handed out: the problem is a *Break.
func (s *Store) Read(ctx context.Context, stream string, from int) (out []job.Event, err error) {
	if name(stream) != "" { // no stream has such a name
		return nil, nil
	}
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		out, err = read(ctx, tx, stream, from)
		return err
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func read(ctx context.Context, tx *sql.Tx, stream string, from int) ([]job.Event, error) {
	var out []job.Event
	var before *stored
	err := each(ctx, tx, func(row *stored) error {
		e, err := checked(row)
		if err != nil {
			return err
		}
		if before == nil && from <= 1 && row.seq != 1 {
			return row.broken("%s missing from the stream before it", gap(0, row.seq))
		}
		if before != nil && (row.seq != before.seq+1 || !bytes.Equal(row.prev, before.hash)) {
			return row.broken("does not follow event %d as it stands", before.seq)
		}
		before = row
		out = append(out, e)
		return nil
	}, "WHERE stream = $1 AND seq >= $2 ORDER BY seq", stream, from)
	return out, err
}

// checked is the row's event, when its bytes are those that were hashed.
func checked(row *stored) (job.Event, error) {
	if sum := row.sum(); !bytes.Equal(sum[:], row.hash) {
		return job.Event{}, row.broken("was changed after it was recorded")
	}
	e, err := row.event()
	if err != nil {
		return job.Event{}, row.broken("holds a time that cannot be read: %v", err)
	}
	return e, nil
}

// withID finds an event by its id; nil when there is none.
func withID(ctx context.Context, tx *sql.Tx, id string) (*job.Event, error) {
	var found *job.Event
	err := each(ctx, tx, func(row *stored) error {
		e, err := checked(row)
		found = &e
		return err
	}, "WHERE id = $1", id)
	return found, err
}
