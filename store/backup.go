package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// ErrExists is Backup's refusal to write over a file.
var ErrExists = errors.New("the file exists already")

// Backup writes the database as it stands into a SQLite file of its own, while
// others go on writing. The copy is shown to look before it takes its name; a
// copy that look refuses, or half a copy, never has that name. A file of that
// name is replaced only when asked for.
func (d *DB) Backup(ctx context.Context, file string, replace bool, look func(*DB) error) error {
	if _, err := os.Lstat(file); err == nil && !replace {
		return fmt.Errorf("%s: %w", file, ErrExists)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return whole(ctx, file, func(part string) error { return d.copyTo(ctx, d, part) }, look)
}

// whole makes a database file that is there whole, seen by look and synced, or
// not at all.
func whole(ctx context.Context, file string, write func(part string) error, look func(*DB) error) error {
	dir, base := filepath.Split(file)
	if dir == "" {
		dir = "."
	}
	f, err := os.CreateTemp(dir, "."+base+".part-*") // only its owner can read it
	if err != nil {
		return fmt.Errorf("the copy cannot be written: %w", err)
	}
	part := f.Name()
	if err := f.Close(); err != nil {
		return errors.Join(err, os.Remove(part))
	}
	err = write(part)
	if err == nil {
		err = show(ctx, part, look)
	}
	if err == nil {
		err = syncFile(part)
	}
	if err == nil {
		err = os.Rename(part, file)
	}
	if err != nil {
		return errors.Join(err, os.Remove(part))
	}
	return syncDir(dir)
}

func show(ctx context.Context, place string, look func(*DB) error) error {
	if look == nil {
		return nil
	}
	d, err := OpenRead(ctx, place)
	if err != nil {
		return err
	}
	return errors.Join(look(d), d.Close())
}

func syncFile(file string) error {
	f, err := os.OpenFile(file, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
