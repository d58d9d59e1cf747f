package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
)

// postgres is a schema of a PostgreSQL database.
type postgres struct {
	config *pgx.ConnConfig
	name   string
}

func (p postgres) Name() string { return p.name }

func (postgres) folder() string { return "postgres" }

// Connections that a server holds at most, beside the one that writes and the
// one that listens: twenty workshops of two servers each stay under 300.
const (
	readers   = 5
	idleFor   = 5 * time.Minute
	connectIn = 10 * time.Second
	scrubIn   = 10 * time.Second // how long older readers are waited for
)

// session is how every connection is set, where the address does not say
// otherwise: an acknowledgement comes after the disk; whoever waits for a lock
// is told after a while; and a server that has gone away in the middle of a
// transaction holds up the others for half a minute at most.
var session = map[string]string{
	"application_name":                    "chargewright",
	"synchronous_commit":                  "on",
	"standard_conforming_strings":         "on",
	"lock_timeout":                        "10s",
	"idle_in_transaction_session_timeout": "30s",
	"tcp_keepalives_idle":                 "15",
	"tcp_keepalives_interval":             "5",
	"tcp_keepalives_count":                "3",
}

// plainName is the name of a schema that needs no quotes.
var plainName = regexp.MustCompile(`^[a-z_][a-z0-9_]{0,62}$`)

// address reads the address of a database. The driver's refusals name no
// password.
func address(place string) (postgres, error) {
	c, err := pgx.ParseConfig(place)
	if err != nil {
		return postgres{}, fmt.Errorf("the database's address cannot be understood: %w; write it as postgres://USER@HOST/DATABASE", err)
	}
	for name, value := range session {
		if c.RuntimeParams[name] == "" {
			c.RuntimeParams[name] = value
		}
	}
	schema, named := c.RuntimeParams["search_path"]
	if named && !plainName.MatchString(schema) {
		return postgres{}, fmt.Errorf("search_path=%s in the database's address: write the name of one schema, in small letters, digits and _", schema)
	}
	if c.ConnectTimeout == 0 {
		c.ConnectTimeout = connectIn
	}
	dialer := &net.Dialer{Timeout: c.ConnectTimeout, KeepAliveConfig: net.KeepAliveConfig{Enable: true, Idle: 15 * time.Second, Interval: 5 * time.Second, Count: 3}}
	c.DialFunc = dialer.DialContext
	u := url.URL{Scheme: "postgres", Host: net.JoinHostPort(c.Host, strconv.Itoa(int(c.Port))), Path: "/" + c.Database}
	q := url.Values{}
	if strings.HasPrefix(c.Host, "/") { // a socket of this machine
		u.Host = ""
		q.Set("host", c.Host)
	}
	if named {
		q.Set("search_path", schema)
	}
	u.RawQuery = strings.ReplaceAll(q.Encode(), "%2F", "/")
	return postgres{config: c, name: u.String()}, nil
}

// openServer opens a database for writing and makes its schema where it is
// missing.
func openServer(ctx context.Context, place string) (*DB, error) {
	p, err := address(place)
	if err != nil {
		return nil, err
	}
	d := &DB{engine: p, write: stdlib.OpenDB(*p.config), read: p.pool()}
	d.write.SetMaxOpenConns(1)
	if err = p.begin(ctx, d.write); err == nil {
		d.warnings, err = p.settings(ctx, d.write)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s cannot be used: %w", p.name, err), d.Close())
	}
	return d, nil
}

// openServerToRead opens a database for reading.
func openServerToRead(ctx context.Context, place string) (*DB, error) {
	p, err := address(place)
	if err != nil {
		return nil, err
	}
	d := &DB{engine: p, read: p.pool()}
	if err := d.read.PingContext(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("%s cannot be used: %w", p.name, err), d.Close())
	}
	return d, nil
}

func (p postgres) pool() *sql.DB {
	pool := stdlib.OpenDB(*p.config)
	pool.SetMaxOpenConns(readers)
	pool.SetMaxIdleConns(1)
	pool.SetConnMaxIdleTime(idleFor)
	return pool
}

// begin makes the schema that the address names. Whoever may not make one finds
// it there, or is told.
func (p postgres) begin(ctx context.Context, write *sql.DB) error {
	return within(ctx, write, p.writes(), func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "SELECT pg_advisory_xact_lock(hashtextextended('chargewright schema', 0))"); err != nil {
			return err
		}
		var there bool
		if err := tx.QueryRowContext(ctx, "SELECT current_schema() IS NOT NULL").Scan(&there); err != nil || there {
			return err
		}
		schema := p.config.RuntimeParams["search_path"]
		if schema == "" {
			return errors.New("its search_path names no schema that is there: add ?search_path=NAME to the address")
		}
		_, err := tx.ExecContext(ctx, "CREATE SCHEMA "+pgx.Identifier{schema}.Sanitize())
		return err
	})
}

// settings reads back what the promise of Write rests on. What cannot be lived
// with is the problem; what whoever runs the server should know is a warning.
func (postgres) settings(ctx context.Context, write *sql.DB) (warnings []string, err error) {
	var version int
	var encoding, commit, onlyReads, fsync, pages string
	err = write.QueryRowContext(ctx, `SELECT current_setting('server_version_num')::int, current_setting('server_encoding'),
		current_setting('synchronous_commit'), current_setting('transaction_read_only'), current_setting('fsync'), current_setting('full_page_writes')`).
		Scan(&version, &encoding, &commit, &onlyReads, &fsync, &pages)
	if err != nil {
		return nil, err
	}
	var problems []error
	say := func(is bool, what string, args ...any) {
		if is {
			problems = append(problems, fmt.Errorf(what, args...))
		}
	}
	say(version < 130000, "the server is PostgreSQL %d: 13 or newer is wanted", version/10000)
	say(encoding != "UTF8", "its encoding is %s: make the database with ENCODING 'UTF8'", encoding)
	say(commit == "off", "synchronous_commit is off, so an event would be acknowledged before it is on the disk: leave it on")
	say(onlyReads != "off", "it takes no changes (a standby, or default_transaction_read_only): give the address of the one that does")
	if fsync != "on" {
		warnings = append(warnings, "fsync is off on the database server: what was acknowledged is lost in a power cut, and the whole database may be; set fsync = on")
	}
	if pages != "on" {
		warnings = append(warnings, "full_page_writes is off on the database server: after a power cut a page may be half written; set full_page_writes = on")
	}
	return warnings, errors.Join(problems...)
}

// reads: a transaction sees one state, and changes nothing.
func (postgres) reads() *sql.TxOptions {
	return &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}
}

// writes: each statement looks anew, so that those after the lock see what
// whoever had it before has committed. A server's own default may be another.
func (postgres) writes() *sql.TxOptions { return &sql.TxOptions{Isolation: sql.LevelReadCommitted} }

// alone takes a lock of the workshop until the transaction ends. Workshops in
// other schemas of the database do not wait.
func (postgres) alone(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, "SELECT pg_advisory_xact_lock(hashtextextended('chargewright ' || current_schema(), 0))")
	return err
}

// scrub writes the table anew, so that no older state of a row stands in its
// file, once nobody reads any more who may still want one. The server's
// write-ahead log, its archive and its standbys keep theirs for as long as they
// are set to.
func (postgres) scrub(ctx context.Context, d *DB, table string) error {
	var now string
	if err := d.write.QueryRowContext(ctx, "SELECT pg_current_xact_id()::xid::text").Scan(&now); err != nil {
		return err
	}
	for end := time.Now().Add(scrubIn); ; pause(ctx, scrubIn/100) {
		var earlier bool
		err := d.write.QueryRowContext(ctx, `SELECT count(*) > 0 FROM pg_stat_activity
			WHERE datname = current_database() AND pid <> pg_backend_pid() AND age(backend_xmin) > age($1::text::xid)`, now).Scan(&earlier)
		switch {
		case err != nil:
			return err
		case earlier && time.Now().After(end):
			return errors.New("somebody was reading all the while, so older states still stand in the table's file: do it again later")
		case !earlier:
			_, err = d.write.ExecContext(ctx, "VACUUM FULL "+pgx.Identifier{table}.Sanitize())
			return err
		}
	}
}

// channel is what a workshop's servers hear of each other on.
const channel = "'chargewright_' || to_hex(hashtextextended(current_schema(), 0))"

// announce tells the other servers, once the transaction is committed.
func (postgres) announce(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, "SELECT pg_notify("+channel+", '')")
	return err
}

// Listening anew after a break, and looking even when nothing was heard.
const (
	againAfter = time.Second
	guardEvery = 5 * time.Second
)

// watch listens for announcements. When the connection breaks it looks once it
// listens again, so that nothing is missed.
func (p postgres) watch(ctx context.Context, _ *DB, tell func(), trouble func(error)) {
	for ctx.Err() == nil {
		if err := p.listen(ctx, tell); err != nil && ctx.Err() == nil {
			trouble(err)
		}
		pause(ctx, againAfter)
	}
}

func (p postgres) listen(ctx context.Context, tell func()) error {
	conn, err := pgx.ConnectConfig(ctx, p.config.Copy())
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close(context.WithoutCancel(ctx)) }()
	var name string
	if err := conn.QueryRow(ctx, "SELECT "+channel).Scan(&name); err != nil {
		return err
	}
	if _, err := conn.Exec(ctx, "LISTEN "+pgx.Identifier{name}.Sanitize()); err != nil {
		return err
	}
	for {
		tell()
		within, cancel := context.WithTimeout(ctx, guardEvery)
		_, err := conn.WaitForNotification(within)
		quiet := err != nil && within.Err() != nil && ctx.Err() == nil
		cancel()
		if err != nil && !quiet {
			return err
		}
	}
}
