package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"
)

// Migrations are run in the order of their names and never changed once they
// have left the house: a file's text is remembered by its hash.
//
//go:embed sqlite/*.sql postgres/*.sql
var migrations embed.FS

type migration struct {
	name, text, sum string
}

// known are the migrations in a folder, in order.
func known(files fs.FS, folder string) ([]migration, error) {
	names, err := fs.Glob(files, folder+"/*.sql") // sorted
	if err != nil {
		return nil, err
	}
	var out []migration
	for _, n := range names {
		text, err := fs.ReadFile(files, n)
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256(text)
		out = append(out, migration{strings.TrimSuffix(path.Base(n), ".sql"), string(text), hex.EncodeToString(sum[:])})
	}
	return out, nil
}

// migrate runs what has not been run, all or nothing but where a migration has to be
// committed before the next: then what is left is left to the next start. Two programs
// that start at once wait for each other at each transaction.
func (d *DB) migrate(ctx context.Context) error {
	all, err := known(migrations, d.folder())
	if err != nil {
		return err
	}
	for more := true; more && err == nil; {
		err = d.Write(ctx, func(tx *sql.Tx) error {
			more, err = d.bringUp(ctx, tx, all)
			return err
		})
	}
	return err
}

// bringUp says whether there is more to do once this is committed.
func (d *DB) bringUp(ctx context.Context, tx *sql.Tx, all []migration) (more bool, err error) {
	done, err := d.ran(ctx, tx)
	if err != nil {
		return false, err
	}
	if err := agree(all, done); err != nil {
		return false, err
	}
	if done == nil {
		d.begun = true
		if _, err := tx.ExecContext(ctx, d.list()); err != nil {
			return false, err
		}
	}
	for i, m := range all[len(done):] {
		if _, err := tx.ExecContext(ctx, m.text); err != nil {
			return false, fmt.Errorf("migration %s: %w", m.name, err)
		}
		commit, err := d.besides(ctx, tx, m.name)
		if err != nil {
			return false, fmt.Errorf("migration %s: %w", m.name, err)
		}
		if _, err := tx.ExecContext(ctx, "INSERT INTO migration (name, sha256) VALUES ($1, $2)", m.name, m.sum); err != nil {
			return false, err
		}
		if commit && i+1 < len(all)-len(done) {
			return true, nil
		}
	}
	return false, nil
}

// current reports whether the schema is this program's.
func (d *DB) current(ctx context.Context) error {
	all, err := known(migrations, d.folder())
	if err != nil {
		return err
	}
	return d.Read(ctx, func(tx *sql.Tx) error {
		done, err := d.ran(ctx, tx)
		switch {
		case err != nil:
			return err
		case done == nil:
			return errors.New("it holds no journal")
		case len(done) < len(all):
			return fmt.Errorf("an older program wrote it, up to %s: start this one on it once, or read it with the older one", done[len(done)-1].name)
		}
		return agree(all, done)
	})
}

// ran lists the migrations that have been run; nil in an empty database.
func (d *DB) ran(ctx context.Context, tx *sql.Tx) ([]migration, error) {
	tables, list, err := d.made(ctx, tx)
	switch {
	case err != nil:
		return nil, err
	case tables == 0:
		return nil, nil
	case !list:
		return nil, errors.New("it is the database of another program")
	}
	rows, err := tx.QueryContext(ctx, "SELECT name, sha256 FROM migration ORDER BY name")
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }() // rows.Err tells more
	done := []migration{}
	for rows.Next() {
		var m migration
		if err := rows.Scan(&m.name, &m.sum); err != nil {
			return nil, err
		}
		done = append(done, m)
	}
	return done, rows.Err()
}

// agree holds what has been run against what is known.
func agree(all, done []migration) error {
	for i, m := range done {
		switch {
		case i >= len(all):
			return fmt.Errorf("a newer program wrote it (migration %s): use that one", m.name)
		case m.name != all[i].name || m.sum != all[i].sum:
			return fmt.Errorf("it was made with another migration %s than this program's %s: use the program that wrote it", m.name, all[i].name)
		}
	}
	return nil
}
