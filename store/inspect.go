package store

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
)

// Inspect looks for what is wrong with the database itself: pages that do not
// hang together, rows that refer to none, and tables, indexes and triggers that
// are not those of the migrations. Each finding is a sentence; none is sound.
func (d *DB) Inspect(ctx context.Context) ([]string, error) {
	want, err := d.wanted(ctx)
	if err != nil {
		return nil, err
	}
	var found []string
	err = d.Read(ctx, func(tx *sql.Tx) error {
		if found, err = d.damage(ctx, tx); err != nil {
			return err
		}
		is, err := d.schema(ctx, tx)
		found = append(found, differences(is, want)...)
		return err
	})
	return found, err
}

// object is a table, index, trigger or the like.
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

// objects are kind, name and definition as a query lists them.
func objects(ctx context.Context, tx *sql.Tx, query string) (map[object]string, error) {
	rows, err := tx.QueryContext(ctx, query)
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

func column(ctx context.Context, tx *sql.Tx, query string, args ...any) ([]string, error) {
	rows, err := tx.QueryContext(ctx, query, args...)
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
