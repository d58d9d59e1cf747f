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
	"time"

	_ "modernc.org/sqlite" // the driver "sqlite"
)

// FileName is the database's file in a data directory.
const FileName = "chargewright.db"

// sqlite is a database file.
type sqlite struct{ path string }

func (s sqlite) Name() string { return s.path }

func (sqlite) folder() string { return "sqlite" }

// openDir opens the database file in a directory and makes both where they are
// missing.
func openDir(ctx context.Context, dir string) (*DB, error) {
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
	if err := settings(ctx, d.write); err != nil {
		return nil, errors.Join(fmt.Errorf("%s cannot be used: %w", file, err), d.Close())
	}
	return d, nil
}

// openToRead opens a database file, or the one in a directory.
func openToRead(_ context.Context, path string) (*DB, error) {
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
	return openFile(file, false)
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
	d := &DB{engine: sqlite{file}}
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
	filling = "mode=rw&_txlock=immediate&_pragma=synchronous(OFF)&_pragma=foreign_keys(1)" // a copy, synced when it is whole
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
func settings(ctx context.Context, write *sql.DB) error {
	var problems []error
	for _, s := range []struct{ name, want, why string }{
		{"journal_mode", "wal", "the file system must take a write-ahead log; a network share does not"},
		{"synchronous", "2", "every commit is synced"},
		{"foreign_keys", "1", "rows refer to rows that exist"},
		{"secure_delete", "1", "what is erased is overwritten"},
	} {
		var got string
		if err := write.QueryRowContext(ctx, "PRAGMA "+s.name).Scan(&got); err != nil {
			return err
		}
		if got != s.want {
			problems = append(problems, fmt.Errorf("%s is %s where %s is wanted: %s", s.name, got, s.want, s.why))
		}
	}
	return errors.Join(problems...)
}

// File is the path of a SQLite database's file, "" on PostgreSQL.
func (d *DB) File() string {
	if s, ok := d.engine.(sqlite); ok {
		return s.path
	}
	return ""
}

// reads: the connection reads only, and a transaction sees one state.
func (sqlite) reads() *sql.TxOptions { return nil }

// writes: the connection says that a transaction takes the lock at once.
func (sqlite) writes() *sql.TxOptions { return nil }

// alone: the transaction has taken the file's one lock at its beginning.
func (sqlite) alone(context.Context, *sql.Tx) error { return nil }

// scrub empties the write-ahead log into the file. What was deleted there has
// been overwritten already.
func (sqlite) scrub(ctx context.Context, d *DB, _ string) error {
	var busy, frames, moved int
	err := d.write.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &frames, &moved)
	if err == nil && busy != 0 {
		err = errors.New("somebody was reading all the while, so older states still stand in the write-ahead log: do it again later")
	}
	return err
}

func (sqlite) announce(context.Context, *sql.Tx) error { return nil }

// lookEvery is how often a file is looked at for writing by another program.
const lookEvery = 500 * time.Millisecond

// watch looks at the file's counter of changes: another program, such as an
// import, may write beside this one.
func (s sqlite) watch(ctx context.Context, d *DB, tell func(), trouble func(error)) {
	for ctx.Err() == nil {
		if err := s.count(ctx, d, tell); err != nil && ctx.Err() == nil {
			trouble(err)
		}
		pause(ctx, lookEvery)
	}
}

// count looks at the counter, which is a connection's own, until it cannot or
// ctx ends.
func (sqlite) count(ctx context.Context, d *DB, tell func()) error {
	conn, err := d.read.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close() }() // it goes back to the others
	for before, first := int64(0), true; ctx.Err() == nil; first = false {
		var now int64
		if err := conn.QueryRowContext(ctx, "PRAGMA data_version").Scan(&now); err != nil {
			return err
		}
		if first || now != before {
			tell()
		}
		before = now
		pause(ctx, lookEvery)
	}
	return nil
}

// pause waits, but not beyond the end of ctx.
func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}
