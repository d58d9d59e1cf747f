package store

import (
	"context"
	"database/sql"
	"errors"
)

func (sqlite) made(ctx context.Context, tx *sql.Tx) (tables int, list bool, err error) {
	err = tx.QueryRowContext(ctx, "SELECT count(*), coalesce(sum(name = 'migration'), 0) FROM sqlite_schema WHERE type = 'table'").Scan(&tables, &list)
	return tables, list, err
}

func (sqlite) list() string {
	return "CREATE TABLE migration (name TEXT PRIMARY KEY, sha256 TEXT NOT NULL) STRICT, WITHOUT ROWID"
}

// besides: a file's migrations say all that they make.
func (sqlite) besides(context.Context, *sql.Tx, string) (commit bool, err error) { return false, nil }

// damage finds pages that do not hang together and rows that refer to none.
func (sqlite) damage(ctx context.Context, tx *sql.Tx) (found []string, err error) {
	lines, err := column(ctx, tx, "PRAGMA integrity_check(100)")
	if err != nil {
		return nil, err
	}
	for _, l := range lines {
		if l != "ok" {
			found = append(found, "the database file is damaged: "+l)
		}
	}
	if lines, err = column(ctx, tx, `SELECT "table" FROM pragma_foreign_key_check`); err != nil {
		return nil, err
	}
	for _, l := range lines {
		found = append(found, "a row of table "+l+" refers to a row that does not exist")
	}
	return found, nil
}

func (sqlite) schema(ctx context.Context, tx *sql.Tx) (map[object]string, error) {
	return objects(ctx, tx, "SELECT type, name, coalesce(sql, '') FROM sqlite_schema")
}

// wanted is the schema of an empty database of this program.
func (s sqlite) wanted(ctx context.Context) (out map[object]string, err error) {
	err = empty(ctx, func(tx *sql.Tx) error {
		out, err = s.schema(ctx, tx)
		return err
	})
	return out, err
}

// empty shows an empty database of this program.
func empty(ctx context.Context, look func(*sql.Tx) error) (err error) {
	pool, err := sql.Open("sqlite", "file::memory:")
	if err != nil {
		return err
	}
	pool.SetMaxOpenConns(1) // each connection would have a memory of its own
	d := &DB{engine: sqlite{"an empty database"}, write: pool}
	defer func() { err = errors.Join(err, d.Close()) }()
	if err := d.migrate(ctx); err != nil {
		return err
	}
	return d.Write(ctx, look)
}
