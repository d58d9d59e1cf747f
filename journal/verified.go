package journal

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Verified is what the journal was when it was last held against its hashes as a whole.
type Verified struct {
	At     time.Time
	Head   Head
	Breaks int
	First  string // of the breaks, in words
}

// LastVerified is the latest one; false when there was none.
func (s *Store) LastVerified(ctx context.Context) (v Verified, was bool, err error) {
	var at int64
	var head string
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, "SELECT at, events, head, breaks, first FROM verified").Scan(&at, &v.Head.Events, &head, &v.Breaks, &v.First)
	})
	if errors.Is(err, sql.ErrNoRows) {
		return v, false, nil
	}
	if err == nil {
		v.At = time.Unix(at, 0)
		v.Head.Sum, err = ParseSum(head)
	}
	return v, err == nil, err
}

// VerifyOn verifies the journal and keeps what it found. What stood there the last time
// must be there unchanged, so that an end that was cut off since is found as well.
func (s *Store) VerifyOn(ctx context.Context) (v Verified, err error) {
	last, was, err := s.LastVerified(ctx)
	if err != nil {
		return v, err
	}
	var head Sum
	if was && last.Head.Events > 0 {
		head = last.Head.Sum
	}
	r, err := s.Verify(ctx, head)
	if err != nil {
		return v, err
	}
	v = Verified{At: s.now(), Head: r.Head, Breaks: len(r.Breaks)}
	if v.Breaks > 0 {
		v.First = r.Breaks[0].Error()
	}
	keep := v.Head
	if r.At < 0 { // the head that was once there stays what is asked for
		keep = last.Head
	}
	err = s.db.Write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO verified (id, at, events, head, breaks, first) VALUES (1, $1, $2, $3, $4, $5)
			ON CONFLICT (id) DO UPDATE SET at = excluded.at, events = excluded.events, head = excluded.head, breaks = excluded.breaks, first = excluded.first`,
			v.At.Unix(), keep.Events, keep.Sum.String(), v.Breaks, v.First)
		return err
	})
	return v, err
}
