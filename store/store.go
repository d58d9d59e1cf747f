package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
)

// DB is an open database. One connection writes, so that writers wait in the
// program; several read beside it.
type DB struct {
	engine
	write, read *sql.DB // write is nil when it was opened for reading
	warnings    []string
	begun       bool
}

// engine is what differs between the databases.
type engine interface {
	// Name is the database as people are told of it: a file, or an address
	// without its secrets.
	Name() string
	// folder holds the migrations.
	folder() string
	// reads and writes are how transactions begin.
	reads() *sql.TxOptions
	writes() *sql.TxOptions
	// alone keeps everybody else from writing until the transaction ends.
	alone(ctx context.Context, tx *sql.Tx) error
	// made counts the tables that are there, and says whether the list of
	// migrations is one of them.
	made(ctx context.Context, tx *sql.Tx) (tables int, list bool, err error)
	// list makes the list of migrations.
	list() string
	// besides makes what a migration wants made beside its own text. commit: it has to
	// be committed before the next one.
	besides(ctx context.Context, tx *sql.Tx, migration string) (commit bool, err error)
	// damage says what is wrong with what the rows are stored in.
	damage(ctx context.Context, tx *sql.Tx) ([]string, error)
	// schema is how tables, indexes, triggers and the like are defined, and
	// wanted how they should be.
	schema(ctx context.Context, tx *sql.Tx) (map[object]string, error)
	wanted(ctx context.Context) (map[object]string, error)
	// copyTo writes the database as it stands into a SQLite file that is empty.
	copyTo(ctx context.Context, d *DB, file string) error
	// scrub removes older states of a table's rows.
	scrub(ctx context.Context, d *DB, table string) error
	// announce makes the transaction's end known to whoever watches.
	announce(ctx context.Context, tx *sql.Tx) error
	// watch tells of changes by others until ctx ends.
	watch(ctx context.Context, d *DB, tell func(), trouble func(error))
}

// IsURL says whether a place is the address of a PostgreSQL database and not a
// directory.
func IsURL(place string) bool {
	return strings.HasPrefix(place, "postgres://") || strings.HasPrefix(place, "postgresql://")
}

// Open opens the database at a place: a data directory, or the address of a
// PostgreSQL database such as postgres://user@host/workshop. It makes what is
// missing of directory, file and schema, and brings the schema up to date.
func Open(ctx context.Context, place string) (*DB, error) {
	open := openDir
	if IsURL(place) {
		open = openServer
	}
	d, err := open(ctx, place)
	if err != nil {
		return nil, err
	}
	if err := d.migrate(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("%s cannot be used: %w", d.Name(), err), d.Close())
	}
	return d, nil
}

// OpenRead opens the database at a place, or a database file such as a backup,
// for reading. It makes and changes nothing, and does not wait for whoever
// writes.
func OpenRead(ctx context.Context, place string) (*DB, error) {
	open := openToRead
	if IsURL(place) {
		open = openServerToRead
	}
	d, err := open(ctx, place)
	if err != nil {
		return nil, err
	}
	if err := d.current(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("%s cannot be used: %w", d.Name(), err), d.Close())
	}
	return d, nil
}

// Warnings are what the database's settings leave to be desired: sentences for
// whoever runs it.
func (d *DB) Warnings() []string { return d.warnings }

// Begun says that nothing was there before it was opened: that a workshop was
// begun, on purpose or by a slip in its place.
func (d *DB) Begun() bool { return d.begun }

// Write does something in one transaction, alone: nobody else writes between
// its first statement and its last, on whichever server. When it returns nil,
// what was written is on the disk. When it does not, nothing was written, or the
// connection broke at the very end and it cannot be told: so what is written
// must be such that doing it again does no harm.
func (d *DB) Write(ctx context.Context, do func(*sql.Tx) error) error {
	if d.write == nil {
		return fmt.Errorf("%s was opened for reading", d.Name())
	}
	return within(ctx, d.write, d.writes(), func(tx *sql.Tx) error {
		if err := d.alone(ctx, tx); err != nil {
			return err
		}
		return do(tx)
	})
}

// Read does something in one transaction that sees the database as it stands
// at its first statement.
func (d *DB) Read(ctx context.Context, do func(*sql.Tx) error) error {
	return within(ctx, d.read, d.reads(), do)
}

func within(ctx context.Context, pool *sql.DB, how *sql.TxOptions, do func(*sql.Tx) error) error {
	tx, err := pool.BeginTx(ctx, how)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // after the commit it does nothing
	if err := do(tx); err != nil {
		return err
	}
	err = tx.Commit()
	if errors.Is(err, sql.ErrTxDone) && ctx.Err() != nil {
		// The pool saw the end of the context first and rolled back.
		return errors.Join(ctx.Err(), err)
	}
	return err
}

// Exec runs what cannot stand in a transaction on the writing connection.
func (d *DB) Exec(ctx context.Context, statement string) error {
	if d.write == nil {
		return fmt.Errorf("%s was opened for reading", d.Name())
	}
	_, err := d.write.ExecContext(ctx, statement)
	return err
}

// Scrub removes what older states of a table's rows are left in the database's
// files. Copies, and what a server keeps of its log, are not in its reach.
func (d *DB) Scrub(ctx context.Context, table string) error {
	if d.write == nil {
		return fmt.Errorf("%s was opened for reading", d.Name())
	}
	return d.scrub(ctx, d, table)
}

// Announce makes the end of a transaction known to everybody who watches, in
// this program and in others.
func (d *DB) Announce(ctx context.Context, tx *sql.Tx) error { return d.announce(ctx, tx) }

// Watch calls tell whenever somebody may have written, until ctx ends: at once
// after an announcement on PostgreSQL, within half a second on SQLite. It calls
// it too often rather than too seldom. What keeps it from watching goes to
// trouble, and it tries again.
func (d *DB) Watch(ctx context.Context, tell func(), trouble func(error)) {
	d.watch(ctx, d, tell, trouble)
}

// Close closes every connection.
func (d *DB) Close() error {
	var err error
	if d.read != nil {
		err = d.read.Close()
	}
	if d.write != nil { // last, so that SQLite empties the write-ahead log
		err = errors.Join(err, d.write.Close())
	}
	return err
}
