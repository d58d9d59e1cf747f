package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"
)

// Inspect looks for what is wrong with the file itself: pages that do not hang
// together, rows that refer to none, and tables, indexes and triggers that are
// not those of the migrations. Each finding is a sentence; none is sound.
func (d *DB) Inspect(ctx context.Context) ([]string, error) {
	var found []string
	err := d.Read(ctx, func(tx *sql.Tx) error {
		lines, err := column(ctx, tx, "PRAGMA integrity_check(100)")
		if err != nil {
			return err
		}
		for _, l := range lines {
			if l != "ok" {
				found = append(found, "the database file is damaged: "+l)
			}
		}
		if lines, err = column(ctx, tx, `SELECT "table" FROM pragma_foreign_key_check`); err != nil {
			return err
		}
		for _, l := range lines {
			found = append(found, "a row of table "+l+" refers to a row that does not exist")
		}
		is, err := schema(ctx, tx)
		if err != nil {
			return err
		}
		want, err := wanted(ctx)
		found = append(found, differences(is, want)...)
		return err
	})
	return found, err
}

// object is a table, index, trigger or view.
type object struct{ kind, name string }

func differences(is, want map[object]string) []string {
	var out []string
	for _, o := range sorted(want) {
		switch text, there := is[o]; {
		case !there:
			out = append(out, fmt.Sprintf("%s %s is missing from the database", o.kind, o.name))
		case text != want[o]:
			out = append(out, fmt.Sprintf("%s %s is not as it was made", o.kind, o.name))
		}
	}
	for _, o := range sorted(is) {
		if _, known := want[o]; !known {
			out = append(out, fmt.Sprintf("%s %s does not belong to the database", o.kind, o.name))
		}
	}
	return out
}

func sorted(m map[object]string) []object {
	return slices.SortedFunc(maps.Keys(m), func(a, b object) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(a.name, b.name))
	})
}

// wanted is the schema of an empty database of this program.
func wanted(ctx context.Context) (out map[object]string, err error) {
	pool, err := sql.Open("sqlite", "file::memory:")
	if err != nil {
		return nil, err
	}
	pool.SetMaxOpenConns(1) // each connection would have a memory of its own
	d := &DB{write: pool}
	defer func() { err = errors.Join(err, d.Close()) }()
	if err := d.migrate(ctx); err != nil {
		return nil, err
	}
	err = d.Write(ctx, func(tx *sql.Tx) error {
		out, err = schema(ctx, tx)
		return err
	})
	return out, err
}

func schema(ctx context.Context, tx *sql.Tx) (map[object]string, error) {
	rows, err := tx.QueryContext(ctx, "SELECT type, name, coalesce(sql, '') FROM sqlite_schema")
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }() // rows.Err tells more
	out := map[object]string{}
	for rows.Next() {
		var o object
		var text string
		if err := rows.Scan(&o.kind, &o.name, &text); err != nil {
			return nil, err
		}
		out[o] = text
	}
	return out, rows.Err()
}

func column(ctx context.Context, tx *sql.Tx, query string) ([]string, error) {
	rows, err := tx.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }() // rows.Err tells more
	var out []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, rows.Err()
}
