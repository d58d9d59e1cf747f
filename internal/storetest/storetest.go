// Package storetest runs a test over every kind of database that store knows:
// a SQLite file in a temporary directory, and a schema of a throw-away
// PostgreSQL. What holds on one must hold on the other.
//
// It is for tests alone. This is the only file; TestMain of a package that uses
// it calls Run.
package storetest

import (
	"context"
	"testing"

	"chargewright/internal/pgtest"
	"chargewright/store"
)

// Kind is a kind of database.
type Kind struct {
	Name  string
	place func(testing.TB) string
	quick string // a statement that leaves out what lasting takes
}

// SQLite and Postgres are the kinds there are.
var (
	SQLite   = Kind{"sqlite", func(t testing.TB) string { return t.TempDir() }, "PRAGMA synchronous = OFF"}
	Postgres = Kind{"postgres", pgtest.Schema, "SELECT 1"} // the tests' server is quick as it is
)

// Each runs a test over every kind.
func Each(t *testing.T, do func(*testing.T, Kind)) {
	t.Helper()
	for _, k := range []Kind{SQLite, Postgres} {
		t.Run(k.Name, func(t *testing.T) { do(t, k) })
	}
}

// Place is where a database may be opened that nobody has used.
func (k Kind) Place(t testing.TB) string { t.Helper(); return k.place(t) }

// Open opens a database that nobody has used, for tests that are not about
// lasting: without syncs they take a tenth of the time. It is closed with the
// test.
func (k Kind) Open(t testing.TB) *store.DB {
	t.Helper()
	db, err := store.Open(context.Background(), k.Place(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	if err := db.Exec(context.Background(), k.quick); err != nil {
		t.Fatal(err)
	}
	return db
}

// Run runs a package's tests.
func Run(m *testing.M) int { return pgtest.Run(m) }
