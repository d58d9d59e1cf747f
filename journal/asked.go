package journal

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Asked is a form whose answer takes long, kept so that any server of the
// workshop can answer it. It is no record: what it says is recorded by whoever
// answers it, once, since its event has an id.
type Asked struct {
	Ticket string // nobody can guess it
	Person string // who sent it; nobody else is answered
	Target string // path and query that it was sent to
	Form   string // as it was sent
	At     time.Time
}

// askedFor is how long a form is kept: longer than anything takes.
const askedFor = 10 * time.Minute

// KeepAsked keeps a form, and forgets those that have grown old and are done. also, when
// given, does what belongs to it in the same transaction.
func (s *Store) KeepAsked(ctx context.Context, a Asked, also func(context.Context, *sql.Tx) error) error {
	now := s.now()
	return s.db.Write(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM asked WHERE at <= $1 AND done = 1", now.Add(-askedFor).Unix()); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO asked (ticket, person, target, form, at) VALUES ($1, $2, $3, $4, $5)", a.Ticket, a.Person, a.Target, a.Form, now.Unix())
		if err != nil || also == nil {
			return err
		}
		return also(ctx, tx)
	})
}

// Asked is the form of a ticket: ErrUnknown when there is none, or none any more.
func (s *Store) Asked(ctx context.Context, ticket string) (a Asked, err error) {
	a.Ticket = ticket
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		var at int64
		err := tx.QueryRowContext(ctx, "SELECT person, target, form, at FROM asked WHERE ticket = $1 AND at > $2", ticket, s.now().Add(-askedFor).Unix()).Scan(&a.Person, &a.Target, &a.Form, &at)
		a.At = time.Unix(at, 0)
		return err
	})
	if errors.Is(err, sql.ErrNoRows) {
		return a, ErrUnknown
	}
	return a, err
}
