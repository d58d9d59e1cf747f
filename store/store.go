package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	_ "modernc.org/sqlite" // the driver "sqlite"
)

// FileName is the database's file in a data directory.
const FileName = "chargewright.db"

// DB is an open database. One connection writes, so that writers wait in the
// program and not at the file; several read beside it.
type DB struct {
	file        string
	write, read *sql.DB // write is nil when the file was opened for reading
}

// Open opens the database in a data directory. It makes both where they are
// missing and brings the schema up to date.
func Open(ctx context.Context, dir string) (*DB, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the data directory cannot be made: %w", err)
	}
	file := filepath.Join(dir, FileName)
	if err := touch(file); err != nil {
		return nil, err
	}
	d, err := openFile(file, true)
	if err != nil {
		return nil, err
	}
	if err = d.settings(ctx); err == nil {
		err = d.migrate(ctx)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s cannot be used: %w", file, err), d.Close())
	}
	return d, nil
}

// OpenRead opens the database in a data directory, or a database file such as
// a backup, for reading. It makes and changes nothing, and does not wait for
// whoever writes.
func OpenRead(ctx context.Context, path string) (*DB, error) {
	file := path
	info, err := os.Stat(path)
	if err == nil && info.IsDir() {
		file = filepath.Join(path, FileName)
		info, err = os.Stat(file)
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("there is no %s", file)
	case err != nil:
		return nil, fmt.Errorf("%s cannot be opened: %w", file, err)
	case info.IsDir():
		return nil, fmt.Errorf("%s is a directory", file)
	}
	d, err := openFile(file, false)
	if err != nil {
		return nil, err
	}
	if err := d.current(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("%s cannot be used: %w", file, err), d.Close())
	}
	return d, nil
}

// touch makes an empty file that only its owner can read, since names and
// plates will stand in it, and sees to it that its name outlives a power cut.
func touch(file string) error {
	f, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("the database cannot be made: %w", err)
	}
	dir := filepath.Dir(file)
	return errors.Join(f.Close(), syncDir(dir), syncDir(filepath.Dir(dir)))
}

// syncDir makes the names in a directory lasting. Where a directory cannot be
// synced, as on Windows, the file system sees to it itself.
func syncDir(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	_ = f.Sync() // as said above
	return f.Close()
}

// openFile opens a file with a writing connection or without.
func openFile(file string, toWrite bool) (*DB, error) {
	file, err := filepath.Abs(file)
	if err != nil {
		return nil, err
	}
	d := &DB{file: file}
	if !toWrite {
		d.read, err = sql.Open("sqlite", source(file, reading))
		return d, err
	}
	if d.write, err = sql.Open("sqlite", source(file, writing)); err != nil {
		return nil, err
	}
	d.write.SetMaxOpenConns(1)
	d.read, err = sql.Open("sqlite", source(file, beside))
	return d, err
}

// How a connection is used.
const (
	writing = "mode=rw&_txlock=immediate"
	beside  = "mode=rw&_query_only=1" // reading where another connection writes
	reading = "mode=ro&_query_only=1"
	copying = "mode=ro"
)

// lasting: the log is synced at every commit, so that what was acknowledged
// outlives a power cut; macOS needs fullfsync to mean it. What is deleted is
// overwritten, so that an erased name is gone from the file. A copy is in no
// WAL mode and must stay as it is: only a writer sets it.
const lasting = "&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=foreign_keys(1)" +
	"&_pragma=fullfsync(1)&_pragma=checkpoint_fullfsync(1)&_pragma=secure_delete(1)"

// source is the driver's connection string. Waiting (busy_timeout) is for
// another process only.
func source(file, use string) string {
	name := filepath.ToSlash(file)
	if !strings.HasPrefix(name, "/") { // C:/…
		name = "/" + name
	}
	query := use + "&_busy_timeout=10000&_defensive=1&_dqs=0&_pragma=trusted_schema(0)&_pragma=cell_size_check(1)"
	if use == writing {
		query += lasting
	}
	u := url.URL{Scheme: "file", Path: name, RawQuery: query}
	return u.String()
}

// settings reads back what the promise of Write rests on: a file system may
// refuse a write-ahead log, and then SQLite goes on without one.
func (d *DB) settings(ctx context.Context) error {
	var problems []error
	for _, s := range []struct{ name, want, why string }{
		{"journal_mode", "wal", "the file system must take a write-ahead log; a network share does not"},
		{"synchronous", "2", "every commit is synced"},
		{"foreign_keys", "1", "rows refer to rows that exist"},
		{"secure_delete", "1", "what is erased is overwritten"},
	} {
		var got string
		if err := d.write.QueryRowContext(ctx, "PRAGMA "+s.name).Scan(&got); err != nil {
			return err
		}
		if got != s.want {
			problems = append(problems, fmt.Errorf("%s is %s where %s is wanted: %s", s.name, got, s.want, s.why))
		}
	}
	return errors.Join(problems...)
}

// File is the path of the database's file.
func (d *DB) File() string { return d.file }

// Write does something in one transaction, alone: nobody else writes between
// its first statement and its last. When it returns nil, what was written is on
// the disk.
func (d *DB) Write(ctx context.Context, do func(*sql.Tx) error) error {
	if d.write == nil {
		return fmt.Errorf("%s was opened for reading", d.file)
	}
	return within(ctx, d.write, do)
}

// Read does something in one transaction that sees the database as it stands
// at its first statement.
func (d *DB) Read(ctx context.Context, do func(*sql.Tx) error) error {
	return within(ctx, d.read, do)
}

func within(ctx context.Context, pool *sql.DB, do func(*sql.Tx) error) error {
	tx, err := pool.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // after the commit it does nothing
	if err := do(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// Exec runs what cannot stand in a transaction on the writing connection.
func (d *DB) Exec(ctx context.Context, statement string) error {
	if d.write == nil {
		return fmt.Errorf("%s was opened for reading", d.file)
	}
	_, err := d.write.ExecContext(ctx, statement)
	return err
}

// Scrub empties the write-ahead log into the file, so that no older state of a
// page is left in it.
func (d *DB) Scrub(ctx context.Context) error {
	if d.write == nil {
		return fmt.Errorf("%s was opened for reading", d.file)
	}
	var busy, frames, moved int
	err := d.write.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &frames, &moved)
	if err == nil && busy != 0 {
		err = errors.New("somebody was reading all the while, so older states still stand in the write-ahead log: do it again later")
	}
	return err
}

// Close closes every connection.
func (d *DB) Close() error {
	var err error
	if d.read != nil {
		err = d.read.Close()
	}
	if d.write != nil { // last, so that it empties the write-ahead log
		err = errors.Join(err, d.write.Close())
	}
	return err
}
