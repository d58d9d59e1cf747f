// Package store opens the database of a workshop and brings it up to the
// program's schema by forward-only migrations: one SQLite file in a data
// directory, or a schema of a PostgreSQL database that several servers share.
// It gives transactions to the packages that own tables, tells them when somebody
// else has written, and copies, restores, inspects and scrubs.
//
// It refuses a database that is not this program's, one that a newer program has
// written, one whose migrations are not those of this program, a file system
// that cannot keep a write-ahead log with full sync, and a server that would
// acknowledge before it has written. It knows no table but its own list of
// migrations; a copy goes by what the migrations make. On PostgreSQL it has River
// make its tables, for package task.
//
// What differs between the two stands behind the interface engine: sqlite*.go
// and postgres*.go, with the migrations under folders of the same names.
// Statements elsewhere are those that both know, with $1 for arguments. A
// backup is always a SQLite file, whichever of the two it was made from, and can
// be restored to either.
//
// Open store.go first, then migrate.go.
package store
