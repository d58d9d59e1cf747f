package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Restore puts a backup where no workshop is: into a data directory, or into a
// PostgreSQL database. What an older program has written is brought up to date
// on the way. look is shown the copy first, and what it refuses takes no place;
// on PostgreSQL it is shown what stands there afterwards, too.
func Restore(ctx context.Context, backup, place string, look func(*DB) error) (err error) {
	from, err := openToRead(ctx, backup)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	err = from.Read(ctx, func(tx *sql.Tx) error {
		done, err := from.ran(ctx, tx)
		if err == nil && done == nil {
			err = errors.New("it holds no journal")
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("%s cannot be used: %w", from.Name(), err)
	}
	if IsURL(place) {
		return restoreServer(ctx, from, place, look)
	}
	return restoreDir(ctx, from, place, look)
}

// restoreDir makes the database file of a data directory.
func restoreDir(ctx context.Context, from *DB, dir string, look func(*DB) error) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("the data directory cannot be made: %w", err)
	}
	file := filepath.Join(dir, FileName)
	for _, piece := range []string{file, file + "-wal", file + "-journal"} { // a log of another file would be taken for this one's
		if _, err := os.Lstat(piece); err == nil {
			return fmt.Errorf("%s: %w", piece, ErrInUse)
		}
	}
	return whole(ctx, file, func(part string) error { return today(ctx, from, part) }, look)
}

// today copies a database into an empty file and brings the copy up to date.
func today(ctx context.Context, from *DB, file string) error {
	if err := from.copyTo(ctx, from, file); err != nil {
		return err
	}
	d, err := toFill(file)
	if err != nil {
		return err
	}
	return errors.Join(d.migrate(ctx), d.Close())
}

// restoreServer fills a PostgreSQL database from a copy that was looked at.
func restoreServer(ctx context.Context, from *DB, place string, look func(*DB) error) (err error) {
	dir, err := os.MkdirTemp("", "chargewright-restore-") // only its owner can read it
	if err != nil {
		return fmt.Errorf("the copy cannot be written: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	file := filepath.Join(dir, FileName)
	if err := whole(ctx, file, func(part string) error { return today(ctx, from, part) }, look); err != nil {
		return err
	}
	seen, err := OpenRead(ctx, file)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, seen.Close()) }()
	to, err := Open(ctx, place)
	if err != nil {
		return err
	}
	err = fill(ctx, seen, to)
	if err == nil && look != nil {
		err = look(to)
	}
	if err != nil {
		err = fmt.Errorf("%s: %w", to.Name(), err)
	}
	return errors.Join(err, to.Close())
}
