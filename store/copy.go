package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
)

// table is a table that the migrations make, with its columns.
type table struct {
	name    string
	columns []string
}

// tables lists them so that rows come after those that they refer to. Both
// kinds of database have the same ones; the first column is the key. Tasks are left
// out: whoever serves the copy finds what is left to do.
func tables(ctx context.Context) (out []table, err error) {
	err = empty(ctx, func(tx *sql.Tx) error {
		names, err := column(ctx, tx, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT IN ('migration', 'task') ORDER BY rowid")
		if err != nil {
			return err
		}
		for _, name := range names {
			columns, err := column(ctx, tx, "SELECT name FROM pragma_table_info($1) ORDER BY cid", name)
			if err != nil {
				return err
			}
			out = append(out, table{name, columns})
		}
		return nil
	})
	return out, err
}

// fill writes every row of one database into another one, in one transaction.
// The other holds no rows but those that its migrations have put there.
func fill(ctx context.Context, from, to *DB) error {
	all, err := tables(ctx)
	if err != nil {
		return err
	}
	return from.Read(ctx, func(old *sql.Tx) error {
		return to.Write(ctx, func(tx *sql.Tx) error {
			if err := unused(ctx, tx, all); err != nil {
				return err
			}
			for _, t := range all {
				if err := t.copy(ctx, old, tx); err != nil {
					return fmt.Errorf("table %s: %w", t.name, err)
				}
			}
			return to.Announce(ctx, tx)
		})
	})
}

// ErrInUse is the refusal to restore over a workshop.
var ErrInUse = errors.New("a workshop is there already")

// unused refuses a database that somebody works with. Rows that a migration
// itself puts in are taken out: those of the other database come in their place.
func unused(ctx context.Context, tx *sql.Tx, all []table) error {
	for _, t := range all {
		if t.name == "line_rules" {
			if _, err := tx.ExecContext(ctx, "DELETE FROM line_rules"); err != nil {
				return err
			}
			continue
		}
		var some bool
		if err := tx.QueryRowContext(ctx, "SELECT count(*) > 0 FROM "+t.name).Scan(&some); err != nil {
			return err
		}
		if some {
			return fmt.Errorf("table %s holds rows: %w", t.name, ErrInUse)
		}
	}
	return nil
}

func (t table) copy(ctx context.Context, from, to *sql.Tx) error {
	columns := strings.Join(t.columns, ", ")
	var places []string
	for i := range t.columns {
		places = append(places, fmt.Sprintf("$%d", i+1))
	}
	into, err := to.PrepareContext(ctx, "INSERT INTO "+t.name+" ("+columns+") VALUES ("+strings.Join(places, ", ")+")")
	if err != nil {
		return err
	}
	defer func() { _ = into.Close() }()
	return t.each(ctx, from, func(values []any) error {
		_, err := into.ExecContext(ctx, values...)
		return err
	})
}

// each hands over the table's rows by their key.
func (t table) each(ctx context.Context, from *sql.Tx, do func([]any) error) error {
	rows, err := from.QueryContext(ctx, "SELECT "+strings.Join(t.columns, ", ")+" FROM "+t.name+" ORDER BY 1")
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }() // rows.Err tells more
	for rows.Next() {
		values, cells := make([]any, len(t.columns)), make([]any, len(t.columns))
		for i := range cells {
			cells[i] = &values[i]
		}
		if err := rows.Scan(cells...); err != nil {
			return err
		}
		if err := do(values); err != nil {
			return err
		}
	}
	return rows.Err()
}

// copyTo writes a SQLite database with the same rows: so that a backup is one
// kind of file, whichever database it is of.
func (postgres) copyTo(ctx context.Context, d *DB, file string) error {
	to, err := toFill(file)
	if err != nil {
		return err
	}
	err = to.migrate(ctx)
	if err == nil {
		err = fill(ctx, d, to)
	}
	return errors.Join(err, to.Close())
}

// toFill opens a file that becomes a copy.
func toFill(file string) (*DB, error) {
	file, err := filepath.Abs(file)
	if err != nil {
		return nil, err
	}
	pool, err := sql.Open("sqlite", source(file, filling))
	if err != nil {
		return nil, err
	}
	pool.SetMaxOpenConns(1)
	return &DB{engine: sqlite{file}, write: pool}, nil
}

// copyTo has a connection of its own: the copy takes as long as it takes, and
// the one that writes is not to wait for it.
func (s sqlite) copyTo(ctx context.Context, _ *DB, file string) (err error) {
	pool, err := sql.Open("sqlite", source(s.path, copying))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, pool.Close()) }()
	_, err = pool.ExecContext(ctx, "VACUUM INTO $1", file)
	return err
}
