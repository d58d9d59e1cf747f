package journal

import (
	"context"
	"database/sql"
	"time"
)

// TakeUpAfter is when a form that was said to have arrived is done over, where nobody
// has done it.
const TakeUpAfter = time.Minute

// Unrecorded is a form that was said to have arrived and could not be recorded.
type Unrecorded struct {
	Asked
	Stream string
	Why    string
}

// Undone are forms that nobody has done, the oldest first.
func (s *Store) Undone(ctx context.Context) (out []Asked, err error) {
	return s.undone(ctx, "ORDER BY at, ticket")
}

// Arrived is the form of a ticket where nobody has done it, however old it is.
func (s *Store) Arrived(ctx context.Context, ticket string) (a Asked, undone bool, err error) {
	list, err := s.undone(ctx, "AND ticket = $1", ticket)
	if err != nil || len(list) == 0 {
		return a, false, err
	}
	return list[0], true, nil
}

func (s *Store) undone(ctx context.Context, which string, args ...any) (out []Asked, err error) {
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, "SELECT ticket, person, target, form, at FROM asked WHERE done = 0 "+which, args...)
		if err != nil {
			return err
		}
		out, err = scanAsked(rows)
		return err
	})
	return out, err
}

func scanAsked(rows *sql.Rows) (out []Asked, err error) {
	defer func() { _ = rows.Close() }() // rows.Err tells more
	for rows.Next() {
		var a Asked
		var at int64
		if err := rows.Scan(&a.Ticket, &a.Person, &a.Target, &a.Form, &at); err != nil {
			return nil, err
		}
		a.At = time.Unix(at, 0)
		out = append(out, a)
	}
	return out, rows.Err()
}

// Has says whether an event is recorded.
func (s *Store) Has(ctx context.Context, event string) (has bool, err error) {
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM event WHERE id = $1)", event).Scan(&has)
	})
	return has, err
}

// Done says that nothing is left to do about a form. What could not be recorded
// is kept for whoever opens its job.
func (s *Store) Done(ctx context.Context, ticket string, refused *Unrecorded) error {
	return s.db.Write(ctx, func(tx *sql.Tx) error {
		if u := refused; u != nil {
			if _, err := tx.ExecContext(ctx, "INSERT INTO unrecorded (ticket, stream, person, target, form, at, why) VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (ticket) DO NOTHING",
				ticket, u.Stream, u.Person, u.Target, u.Form, u.At.Unix(), u.Why); err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, "UPDATE asked SET done = 1 WHERE ticket = $1", ticket)
		return err
	})
}

// Unrecorded are the forms of a job that could not be recorded, and that nobody has
// put away.
func (s *Store) Unrecorded(ctx context.Context, stream string) (out []Unrecorded, err error) {
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, "SELECT ticket, person, target, form, at, why FROM unrecorded WHERE stream = $1 ORDER BY at, ticket", stream)
		if err != nil {
			return err
		}
		defer func() { _ = rows.Close() }() // rows.Err tells more
		for rows.Next() {
			u := Unrecorded{Stream: stream}
			var at int64
			if err := rows.Scan(&u.Ticket, &u.Person, &u.Target, &u.Form, &at, &u.Why); err != nil {
				return err
			}
			u.At = time.Unix(at, 0)
			out = append(out, u)
		}
		return rows.Err()
	})
	return out, err
}

// UnrecordedJobs are the streams of jobs that have forms which could not be recorded.
func (s *Store) UnrecordedJobs(ctx context.Context) (out []string, err error) {
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, "SELECT DISTINCT stream FROM unrecorded ORDER BY stream")
		if err != nil {
			return err
		}
		defer func() { _ = rows.Close() }() // rows.Err tells more
		for rows.Next() {
			var stream string
			if err := rows.Scan(&stream); err != nil {
				return err
			}
			out = append(out, stream)
		}
		return rows.Err()
	})
	return out, err
}

// PutAway forgets a form that could not be recorded: somebody has read it.
func (s *Store) PutAway(ctx context.Context, stream, ticket string) error {
	return s.db.Write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM unrecorded WHERE stream = $1 AND ticket = $2", stream, ticket)
		return err
	})
}
