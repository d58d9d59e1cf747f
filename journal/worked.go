package journal

import (
	"context"
	"database/sql"
	"errors"
)

// workedFor is how long the result of work is kept: long enough for whoever waits for
// it, on whichever server.
const workedFor = askedFor

// AskWork asks for work whose result hangs on its key alone, and forgets what has grown
// old. Where it was not asked for yet, also does what belongs to it in the same
// transaction.
func (s *Store) AskWork(ctx context.Context, key, asked string, also func(context.Context, *sql.Tx) error) error {
	now := s.now()
	return s.db.Write(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM worked WHERE at <= $1", now.Add(-workedFor).Unix()); err != nil {
			return err
		}
		r, err := tx.ExecContext(ctx, "INSERT INTO worked (key, asked, at) VALUES ($1, $2, $3) ON CONFLICT (key) DO NOTHING", key, asked, now.Unix())
		if err != nil {
			return err
		}
		if n, err := r.RowsAffected(); n == 0 || err != nil {
			return err
		}
		return also(ctx, tx)
	})
}

// Work is what was asked for under a key, and its result: "" when there is none yet.
// ErrUnknown when it was not asked for, or is forgotten.
func (s *Store) Work(ctx context.Context, key string) (asked, answer string, err error) {
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, "SELECT asked, answer FROM worked WHERE key = $1", key).Scan(&asked, &answer)
	})
	if errors.Is(err, sql.ErrNoRows) {
		err = ErrUnknown
	}
	return asked, answer, err
}

// Worked keeps the result of work. The first one stands.
func (s *Store) Worked(ctx context.Context, key, answer string) error {
	return s.db.Write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE worked SET answer = $1 WHERE key = $2 AND answer = ''", answer, key)
		return err
	})
}

// Along does something in a transaction of the journal's database.
func (s *Store) Along(ctx context.Context, do func(context.Context, *sql.Tx) error) error {
	return s.db.Write(ctx, func(tx *sql.Tx) error { return do(ctx, tx) })
}
